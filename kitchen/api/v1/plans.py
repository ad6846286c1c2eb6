"""Planning a day: asking for a plan, watching it come, stopping it, reading it, making it the day's truth."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowShown
from kitchen.api.bridge import CAUTION
from kitchen.api.models import Scope
from kitchen.api.v1.days import DayShown
from kitchen.members.rules import Deed
from kitchen.planning.actions import publish_plan, request_plan, request_rest
from kitchen.planning.jobs import ask_stop
from kitchen.planning.models import PLAN_SECONDS, PLAN_SEED, HarvestDay, PlanJob
from kitchen.planning.queries import days_of, published_job

_MOST_SEED = 2**31 - 1


class JobShown(RowShown):
    """A request for a plan and how far it is. ``progress`` is the planner's newest report, level by level."""

    day = serializers.UUIDField(source="harvest_day.uuid")
    progress = serializers.DictField()
    has_plan = serializers.SerializerMethodField()

    class Meta:
        model = PlanJob
        fields = (
            *("id", "day", "state", "seconds_limit", "seed", "progress", "has_plan", "failure"),
            *("created_at", "started_at", "finished_at", "published_at"),
        )

    def get_has_plan(self, job: PlanJob) -> bool:
        """Whether it found a plan that can be read."""
        return bool(job.input_hash) and job.finished_at is not None and not job.failure


class JobGiven(Given):
    """How much effort to take. ``rest``: plan the rest of a day under way, keeping what stands."""

    seconds_limit = serializers.IntegerField(min_value=1, max_value=600, default=PLAN_SECONDS)
    seed = serializers.IntegerField(min_value=0, max_value=_MOST_SEED, default=PLAN_SEED)
    rest = serializers.BooleanField(default=False)


class PlanShown(serializers.Serializer[Any]):
    """A plan: the question as it was asked and the answer, both as the planner's own files have them."""

    job = serializers.UUIDField()
    published_at = serializers.DateTimeField(allow_null=True)
    question = serializers.DictField()
    plan = serializers.DictField()
    caution = serializers.CharField()


class Jobs(KitchenView):
    """Requests for plans of one harvest day."""

    model, shown, within = PlanJob, JobShown, "harvest_day__kitchen"
    needs = {
        "list": Need(Deed.PLAN_DAY),
        "create": Need(Deed.PLAN_DAY),
        "retrieve": Need(Deed.PLAN_DAY),
        "stop": Need(Deed.PLAN_DAY),
        "publish": Need(Deed.PUBLISH_PLAN),
        "plan": Need(Deed.PLAN_DAY),
        "published": Need(Deed.SEE, Scope.BOARD),
    }

    def rows(self) -> QuerySet[PlanJob]:
        """Those of the day in the address, or all; the plans themselves stay where they are unless one is read."""
        jobs = PlanJob.objects.select_related("harvest_day__kitchen")
        if "day" in self.kwargs:
            jobs = jobs.filter(harvest_day__uuid=self.kwargs["day"])
        return jobs if self.action in ("plan", "publish") else jobs.defer("day", "plan")

    def _day(self, uuid: UUID) -> HarvestDay:
        found: HarvestDay = get_object_or_404(days_of(self.here).select_related("kitchen"), uuid=uuid)
        return found

    @extend_schema(operation_id="plan_jobs_list")
    def list(self, request: Request, kitchen: UUID, day: UUID) -> Response:
        """What was asked for, the newest first."""
        self._day(day)
        return self.page()

    @extend_schema(operation_id="plan_jobs_start", request=JobGiven, responses={201: JobShown})
    def create(self, request: Request, kitchen: UUID, day: UUID) -> Response:
        """Ask for a plan; a worker makes it. Watch the job until its state is ``finished``."""
        given, found = self.given(JobGiven), self._day(day)

        def ask() -> Response:
            if given["rest"]:
                job = request_rest(harvest_day=found, actor=self.me, seed=given["seed"])
            else:
                job = request_plan(
                    harvest_day=found,
                    actor=self.me,
                    seconds_limit=given["seconds_limit"],
                    seed=given["seed"],
                )
            return Response(self.told(job), status=201)

        return self.once(ask)

    @extend_schema(operation_id="plan_jobs_watch")
    def retrieve(self, request: Request, kitchen: UUID, job: UUID) -> HttpResponseBase:
        """How far a plan has come."""
        return self.one(self.found(job))

    @extend_schema(operation_id="plan_jobs_stop", request=None, responses=JobShown)
    def stop(self, request: Request, kitchen: UUID, job: UUID) -> HttpResponseBase:
        """Stop planning; the best plan so far is kept."""
        return self.one(ask_stop(job=self.found(job), actor=self.me))

    @extend_schema(operation_id="plan_jobs_publish", request=None, responses=DayShown)
    def publish(self, request: Request, kitchen: UUID, job: UUID) -> Response:
        """Make a plan the day's truth. Refused when the day has changed, or the judge finds a rule broken."""
        day = publish_plan(job=self.found(job), actor=self.me)
        return Response(DayShown(day, context=self.get_serializer_context()).data)

    @extend_schema(operation_id="plan_jobs_plan", responses=PlanShown)
    def plan(self, request: Request, kitchen: UUID, job: UUID) -> Response:
        """The plan that a job found."""
        return _told(self.found(job))

    @extend_schema(operation_id="days_plan", responses=PlanShown)
    def published(self, request: Request, kitchen: UUID, day: UUID) -> Response:
        """The plan that stands for a day; not found before the first is published."""
        return _told(published_job(self._day(day)))


def _told(job: PlanJob | None) -> Response:
    if job is None or job.plan is None:
        raise Http404
    told = {
        "job": job.uuid,
        "published_at": job.published_at,
        "question": job.day,
        "plan": job.plan,
        "caution": CAUTION,
    }
    return Response(PlanShown(told).data)
