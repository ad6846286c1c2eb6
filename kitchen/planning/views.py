"""The harvest day's pages: its batches, the plan and how it is made, and publishing it."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from kitchen.batches.queries import batches_of_day
from kitchen.errors import KitchenError
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_named, person
from kitchen.members.rules import Deed, can, check_may
from kitchen.planning.actions import publish_plan, request_plan
from kitchen.planning.bridge import CAUTION, PlanPicture, picture_of, progress_words
from kitchen.planning.jobs import ask_stop
from kitchen.planning.models import OPEN_JOB_STATES, HarvestDay, PlanJob
from kitchen.planning.queries import loads_of, newest_job, newest_planned_job, open_job, published_job
from kitchen.planning.rules import can_be_planned, can_be_published
from kitchen.planning.verdict import violations

_SECONDS = 10


@require_safe
def day(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """A harvest day: what is brought, who helps, and the plan as far as it has come."""
    here = kitchen_named(request, kitchen)
    found = _day(here, day)
    lead = can(person(request), here, Deed.PLAN_DAY)
    job = (newest_planned_job(found) if lead else None) or published_job(found)
    batches = list(batches_of_day(found.pk).select_related("member"))
    newest = newest_job(found) if lead else None
    return render(
        request,
        "planning/day.html",
        {
            "kitchen": here,
            "day": found,
            "batches": batches,
            "jars": sum(batch.jars for batch in batches),
            "helpers": found.attendances.values("user_id").distinct().count(),
            "lead": lead,
            "running": open_job(found) if lead else None,
            "failed": newest.failure if newest is not None else "",
            "job": job,
            "picture": _picture(job),
            "violations": violations(job) if job is not None else (),
            "may_plan": lead and can_be_planned(found),
            "may_publish": lead
            and job is not None
            and job.published_at is None
            and can_be_published(job, found),
            "canners": {load.canner for load in loads_of(found)},
            "caution": CAUTION,
        },
    )


@require_POST
def plan(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Ask for a plan, and go where its progress shows."""
    here = kitchen_named(request, kitchen)
    found = _day(here, day)
    try:
        job = request_plan(harvest_day=found, actor=person(request), seconds_limit=_SECONDS)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
        return redirect("planning:day", here.slug, found.uuid)
    return redirect("planning:progress", here.slug, found.uuid, job.uuid)


@require_safe
def progress(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """How a plan is coming along; leads back to the day when it is done."""
    here = kitchen_named(request, kitchen)
    check_may(person(request), here, Deed.PLAN_DAY)
    found = _job(_day(here, day), job)
    if found.state not in OPEN_JOB_STATES:
        return redirect("planning:day", here.slug, found.harvest_day.uuid)
    context = {
        "kitchen": here,
        "day": found.harvest_day,
        "job": found,
        "levels": progress_words(found.progress, found.harvest_day),
    }
    return render(request, "planning/progress.html", context)


@require_POST
def stop(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """Stop planning; the best plan so far is kept."""
    here = kitchen_named(request, kitchen)
    found = _job(_day(here, day), job)
    try:
        ask_stop(job=found, actor=person(request))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    return redirect("planning:progress", here.slug, found.harvest_day.uuid, found.uuid)


@require_POST
def publish(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """Make a plan the day's truth."""
    here = kitchen_named(request, kitchen)
    found = _day(here, day)
    try:
        publish_plan(job=_job(found, job), actor=person(request))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The plan is published. Members see their times, and calendars follow.")
    return redirect("planning:day", here.slug, found.uuid)


def _day(kitchen: Kitchen, uuid: UUID) -> HarvestDay:
    return get_object_or_404(HarvestDay.objects.select_related("kitchen"), kitchen=kitchen, uuid=uuid)


def _job(day: HarvestDay, uuid: UUID) -> PlanJob:
    return get_object_or_404(
        PlanJob.objects.select_related("harvest_day__kitchen"), harvest_day=day, uuid=uuid
    )


def _picture(job: PlanJob | None) -> PlanPicture | None:
    return None if job is None or job.plan is None else picture_of(job.day, job.plan)
