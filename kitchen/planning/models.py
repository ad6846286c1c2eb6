"""Harvest days, the jobs that plan them, and the published plan as rows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import ClassVar
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from kitchen.batches.models import Batch, Slot
from kitchen.equipment.models import Canner, CannerTime, CoolingTable
from kitchen.members.models import Kitchen


class DayState(models.TextChoices):
    """How far a harvest day has come."""

    DRAFT = "draft", "Draft"
    PUBLISHED = "published", "Published"
    CLOSED = "closed", "Closed"


class DayKind(models.TextChoices):
    """What a day's canners run for."""

    HARVEST = "harvest", "Harvest day"
    BOOKED = "booked", "Booked canner time"


class HarvestDay(models.Model):
    """A day on which canners run: a harvest day, on which the kitchen cans together, or by its ``kind`` one on which
    members use canner time that they booked. Only a harvest day is planned, helped at and closed.

    ``version`` rises with every published plan and guards it.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="harvest_days")
    kind = models.CharField(max_length=10, choices=DayKind, default=DayKind.HARVEST)
    date = models.DateField()
    opens_at = models.DateTimeField()
    closes_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=DayState, default=DayState.DRAFT)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("-date", "kitchen_id")
        constraints = (
            models.UniqueConstraint(fields=("kitchen", "date", "kind"), name="harvest_day_once"),
            models.CheckConstraint(condition=Q(kind__in=DayKind.values), name="harvest_day_kind"),
            models.CheckConstraint(
                condition=Q(closes_at__gt=F("opens_at")), name="harvest_day_closes_after_opening"
            ),
            models.CheckConstraint(condition=Q(state__in=DayState.values), name="harvest_day_state"),
        )

    def __str__(self) -> str:
        return f"{self.kitchen}, {self.date}"

    @property
    def is_harvest(self) -> bool:
        """True when the kitchen cans together."""
        return self.kind == DayKind.HARVEST


class JobState(models.TextChoices):
    """Where a planning job stands."""

    WAITING = "waiting", "Waiting"
    RUNNING = "running", "Planning"
    STOP_ASKED = "stop_asked", "Stopping"
    FINISHED = "finished", "Finished"
    STOPPED = "stopped", "Stopped early"
    FAILED = "failed", "Failed"


PLAN_SECONDS = 10
"""The effort of a plan that a page asks for."""

PLAN_SEED = 1
"""Its seed: the same day then gets the same plan again, and what-if can say beforehand what that will be."""

OPEN_JOB_STATES = (JobState.WAITING, JobState.RUNNING, JobState.STOP_ASKED)


class _Jobs(models.Manager["PlanJob"]):
    def light(self) -> models.QuerySet[PlanJob]:
        """Jobs without what they asked and found, which is large, and read when it is looked at."""
        return self.defer("day", "plan", "progress", "around").annotate(
            has_plan_kept=Q(plan__isnull=False), has_around_kept=Q(around__isnull=False)
        )


class PlanJob(models.Model):
    """One request to plan a day, what it was asked, how far it is and what it found.

    ``progress`` holds the newest report of the planner. ``day`` is the question as it was asked and ``plan``
    the answer; ``input_hash`` is the digest of the question and ``day_version`` the day's version then: both
    must still hold when it is published. ``floor_at`` is when the floor was looked at, for the rest of a day under
    way, and ``follows`` the job whose plan was being run; both are None for a whole day. ``around`` is what a rota is
    drawn up again around (see ``bridge.kept.Around``), None for a job that plans loads.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    harvest_day = models.ForeignKey(HarvestDay, on_delete=models.PROTECT, related_name="plan_jobs")
    state = models.CharField(max_length=10, choices=JobState, default=JobState.WAITING)
    seconds_limit = models.PositiveSmallIntegerField(default=PLAN_SECONDS)
    seed = models.PositiveIntegerField(default=PLAN_SEED)
    progress = models.JSONField(default=dict, blank=True)
    day = models.JSONField(null=True, blank=True)
    plan = models.JSONField(null=True, blank=True)
    input_hash = models.CharField(max_length=64, blank=True)
    day_version = models.PositiveIntegerField()
    floor_at = models.DateTimeField(null=True, blank=True)
    follows = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="followed_by"
    )
    around = models.JSONField(null=True, blank=True)
    requested_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    created_at = models.DateTimeField(default=timezone.now)
    started_at = models.DateTimeField(null=True, blank=True)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    published_at = models.DateTimeField(null=True, blank=True)
    failure = models.TextField(blank=True)

    objects: ClassVar[_Jobs] = _Jobs()

    class Meta:
        ordering = ("-created_at", "-id")
        constraints = (
            models.UniqueConstraint(
                fields=("harvest_day",),
                condition=Q(state__in=OPEN_JOB_STATES),
                name="plan_job_one_open_a_day",
            ),
            models.CheckConstraint(condition=Q(state__in=JobState.values), name="plan_job_state"),
            models.CheckConstraint(condition=Q(seconds_limit__range=(1, 600)), name="plan_job_seconds"),
            models.CheckConstraint(
                condition=Q(floor_at__isnull=True, follows__isnull=True)
                | Q(floor_at__isnull=False, follows__isnull=False),
                name="plan_job_follows_from_a_floor",
            ),
        )

    def __str__(self) -> str:
        return f"{self.harvest_day}, {self.get_state_display()}"

    @property
    def has_plan(self) -> bool:
        """True when it found a plan. A plan that was not read is not read for this."""
        return self._has("plan")

    @property
    def is_of_rota(self) -> bool:
        """True when it draws up a rota again, and plans no loads."""
        return self._has("around")

    def _has(self, field: str) -> bool:
        if field in self.get_deferred_fields():
            known: bool = getattr(self, f"has_{field}_kept")
            return known
        return getattr(self, field) is not None


class WhatIfJob(models.Model):
    """A request to find what would place the jars that a plan leaves out or brings home late.

    ``progress`` says how many batches of how many are answered; ``found`` holds the answers. Asked again, the row
    begins anew.
    """

    job = models.OneToOneField(PlanJob, on_delete=models.PROTECT, related_name="what_if")
    state = models.CharField(max_length=10, choices=JobState, default=JobState.WAITING)
    progress = models.JSONField(default=dict, blank=True)
    found = models.JSONField(null=True, blank=True)
    requested_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    failure = models.TextField(blank=True)

    class Meta:
        ordering = ("-created_at", "-id")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=JobState.values), name="what_if_job_state"),
        )

    def __str__(self) -> str:
        return f"{self.job}, what if"


class LoadState(models.TextChoices):
    """Where a load stands."""

    PLANNED = "planned", "Planned"
    RUNNING = "running", "Running"
    OUT = "out", "Jars out"
    CLOSED = "closed", "Closed"
    CANCELLED = "cancelled", "Cancelled"


class Load(models.Model):
    """One run of one canner. ``number`` counts the canner's loads of the day.

    ``plan_key`` is the plan's own name for it: a load that a new plan goes on with keeps its row, wherever it stands.
    ``target_reading_psi`` is what this canner's gauge must show. ``process_ended_at`` is when the heat went
    off. ``sequence`` rises with every change, for calendars. ``deviation`` names a broken rule; its jars are
    ``on_hold`` until a lead decides (rule S16), and ``discarded`` when the lead had them thrown out. It is ``used_up``
    once every portion is counted and all that was sealed has left the shelf, until somebody counts or puts back. It is
    ``reviewed`` once a lead reviewed its record, until somebody writes in it, a deviation is found or it is sent back.
    ``places`` says where each jar stands, for the drawing. ``slot`` is the booked time that it runs in, None on a
    harvest day; the slot's canner time then stands for all its loads.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    harvest_day = models.ForeignKey(HarvestDay, on_delete=models.PROTECT, related_name="loads")
    canner = models.ForeignKey(Canner, on_delete=models.PROTECT, related_name="loads")
    number = models.PositiveSmallIntegerField()
    plan_key = models.CharField(max_length=60, blank=True)
    lot_code = models.CharField(max_length=40)
    canner_time = models.OneToOneField(
        CannerTime, null=True, blank=True, on_delete=models.PROTECT, related_name="load"
    )
    slot = models.ForeignKey(Slot, null=True, blank=True, on_delete=models.PROTECT, related_name="loads")
    method = models.CharField(max_length=20)
    pressure_psi = models.FloatField(null=True, blank=True)
    target_reading_psi = models.FloatField(null=True, blank=True)
    process_minutes = models.PositiveSmallIntegerField()
    sterilise_jars = models.BooleanField(default=False)
    water_jars = models.PositiveSmallIntegerField(default=0)
    cooling_table = models.ForeignKey(
        CoolingTable, null=True, blank=True, on_delete=models.PROTECT, related_name="loads"
    )
    stand_area_sq_in = models.FloatField(default=0)
    stands_until = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=LoadState, default=LoadState.PLANNED)
    process_ended_at = models.DateTimeField(null=True, blank=True)
    jars_out_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    deviation = models.TextField(blank=True)
    on_hold = models.BooleanField(default=False)
    discarded = models.BooleanField(default=False)
    used_up = models.BooleanField(default=False)
    reviewed = models.BooleanField(default=False)
    places = models.JSONField(default=list, blank=True)
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("-harvest_day__date", "canner__code", "number", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("harvest_day", "canner", "number"),
                condition=~Q(state=LoadState.CANCELLED),
                name="load_number_once",
            ),
            models.UniqueConstraint(
                fields=("lot_code",), condition=~Q(state=LoadState.CANCELLED), name="load_lot_code_once"
            ),
            models.CheckConstraint(condition=Q(process_minutes__gt=0), name="load_process_minutes"),
            models.CheckConstraint(condition=Q(state__in=LoadState.values), name="load_state"),
            models.CheckConstraint(
                condition=~Q(state__in=(LoadState.OUT, LoadState.CLOSED)) | Q(jars_out_at__isnull=False),
                name="load_out_when",
            ),
            models.CheckConstraint(
                condition=Q(on_hold=False) | ~Q(deviation=""), name="load_hold_needs_deviation"
            ),
        )
        # Of the loads of years all but a few are reviewed.
        indexes = (
            models.Index(fields=("harvest_day",), condition=Q(reviewed=False), name="load_not_reviewed"),
        )

    def __str__(self) -> str:
        return self.lot_code

    @property
    def begins_at(self) -> datetime | None:
        """When the canner is first taken for it, as planned: by its first phase where a slot's time stands for more."""
        if self.canner_time is not None:
            return self.canner_time.starts_at
        return min((phase.starts_at for phase in self.phases.all()), default=None)

    @property
    def ends_at(self) -> datetime | None:
        """When the canner is free again, as planned."""
        if self.canner_time is not None:
            return self.canner_time.ends_at
        return max((phase.ends_at for phase in self.phases.all()), default=None)


def lot_code(*, day: HarvestDay, canner: Canner, number: int, foods: Sequence[str]) -> str:
    """Site, product, year and day of year, canner, load of the day: ``RV-SNABEA-26330-P1-2``.

    The product is made of the first letters of the food's id; a load of several foods says ``MIXED``.
    """
    kinds = set(foods)
    words = foods[0].split("_")[:2] if len(kinds) == 1 else ["mixed"]
    product = "".join(word[: 3 if len(words) > 1 else 6] for word in words).upper()
    return f"{day.kitchen.site_code}-{product}-{day.date:%y%j}-{canner.code}-{number}"


class LoadPhase(models.Model):
    """One phase of a load's cycle (rule S4), as planned."""

    load = models.ForeignKey(Load, on_delete=models.CASCADE, related_name="phases")
    kind = models.CharField(max_length=20)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ("load_id", "starts_at", "id")
        constraints = (
            models.UniqueConstraint(fields=("load", "kind"), name="load_phase_once"),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="load_phase_ends_after_start"
            ),
        )

    def __str__(self) -> str:
        return f"{self.load} {self.kind}"


class LoadPortion(models.Model):
    """The jars of one batch in a load. ``process_key`` names the printed row of the published tables.

    ``acid`` lists the ways to acidify one jar, any one of them; empty when the food needs none (rule S14).
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="portions")
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="portions")
    jars = models.PositiveIntegerField()
    process_key = models.CharField(max_length=120)
    headspace_in = models.FloatField()
    sterilise_jars = models.BooleanField(default=False)
    acid = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ("load_id", "id")
        constraints = (
            models.UniqueConstraint(fields=("load", "batch"), name="load_portion_once"),
            models.CheckConstraint(condition=Q(jars__gt=0), name="load_portion_jars"),
        )

    def __str__(self) -> str:
        return f"{self.jars} of {self.batch} in {self.load}"


class LeftOut(models.Model):
    """Jars that found no place in the published plan, why, and what would help."""

    harvest_day = models.ForeignKey(HarvestDay, on_delete=models.CASCADE, related_name="left_out")
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="left_out")
    jars = models.PositiveIntegerField()
    code = models.CharField(max_length=40)
    reason = models.TextField()
    remedy = models.TextField(blank=True)

    class Meta:
        ordering = ("harvest_day_id", "batch__arrives_at", "batch_id")
        verbose_name_plural = "left out"
        constraints = (models.CheckConstraint(condition=Q(jars__gt=0), name="left_out_jars"),)

    def __str__(self) -> str:
        return f"{self.jars} of {self.batch}: {self.reason}"
