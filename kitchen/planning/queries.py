"""Reads of harvest days, jobs and loads."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property
from operator import itemgetter
from typing import Any, NamedTuple

from django.db.models import Prefetch, Q, QuerySet, prefetch_related_objects

from kitchen.equipment.models import Canner, CannerTime
from kitchen.members.models import Kitchen
from kitchen.planning.models import (
    OPEN_JOB_STATES,
    DayKind,
    HarvestDay,
    JobState,
    Load,
    LoadPortion,
    LoadState,
    PlanJob,
    WhatIfJob,
)
from kitchen.prepared import prepared

SEASON = timedelta(days=365)
"""How far back it counts who did more than others: one harvest after another. Common practice, no source."""


def harvest_days() -> QuerySet[HarvestDay]:
    """The harvest days of all kitchens, without the days of booked canner time."""
    return HarvestDay.objects.filter(kind=DayKind.HARVEST)


def days_of(kitchen: Kitchen) -> QuerySet[HarvestDay]:
    """The kitchen's harvest days, newest first."""
    return harvest_days().filter(kitchen=kitchen).order_by("-date")


def next_day(kitchen: Kitchen, on: date) -> HarvestDay | None:
    """The first harvest day on or after this date."""
    return harvest_days().filter(kitchen=kitchen, date__gte=on).order_by("date").first()


def booked_days(kitchen: Kitchen, on: date) -> QuerySet[HarvestDay]:
    """The days from this date on with loads in canner time that members booked, the next first; earlier ones too while
    jars of theirs are in a canner.
    """
    days = HarvestDay.objects.filter(kind=DayKind.BOOKED, kitchen=kitchen)
    standing = Load.objects.exclude(state=LoadState.CANCELLED).filter(
        Q(harvest_day__date__gte=on) | Q(state=LoadState.RUNNING)
    )
    return days.filter(pk__in=standing.values("harvest_day")).order_by("date")


def open_job(day: HarvestDay) -> PlanJob | None:
    """The job that is waiting or running, or None."""
    return _open_jobs.first(day)


def published_job(day: HarvestDay, *, light: bool = False) -> PlanJob | None:
    """The job whose plan stands, or None before the first publication. A ``light`` one is read without its question
    and its plan, which are read when they are looked at.
    """
    return _published_jobs.first(day, light=light)


def what_if_of(job: PlanJob) -> WhatIfJob | None:
    """What was asked about this job's plan, with or without its answers yet."""
    return _what_ifs.first(job)


@prepared
def _open_jobs(day: HarvestDay) -> QuerySet[PlanJob]:
    return PlanJob.objects.filter(harvest_day=day, state__in=OPEN_JOB_STATES)[:1]


@prepared
def _jobs(day: HarvestDay) -> QuerySet[PlanJob]:
    return PlanJob.objects.light().filter(harvest_day=day).order_by("-created_at", "-pk")


@prepared
def _published_jobs(day: HarvestDay, *, light: bool) -> QuerySet[PlanJob]:
    jobs = PlanJob.objects.light() if light else PlanJob.objects.all()
    return jobs.filter(harvest_day=day, published_at__isnull=False).order_by("-published_at")[:1]


@prepared
def _what_ifs(job: PlanJob) -> QuerySet[WhatIfJob]:
    return WhatIfJob.objects.filter(job=job)[:1]


def loads_of(day: HarvestDay) -> QuerySet[Load]:
    """The day's standing loads with all that a run sheet shows, by canner and number."""
    return standing_loads().filter(harvest_day=day)


def standing_loads() -> QuerySet[Load]:
    """The standing loads of all kitchens with all that a run sheet shows."""
    return (
        Load.objects.exclude(state=LoadState.CANCELLED)
        .select_related("canner_time", "slot")
        # Few canners, tables and days for many loads: each is read once.
        .prefetch_related("canner", "harvest_day__kitchen", *_inside())
    )


def loads_in(day: HarvestDay, canners: Iterable[Canner]) -> list[Load]:
    """The day's standing loads in these canners, by number. Day and canner of each are those at hand."""
    known = {canner.pk: canner for canner in canners}
    found = _loads_in(day, list(known))
    for load in found:
        load.canner, load.harvest_day = known[load.canner_id], day
    return found


@prepared
def _loads_in(day: HarvestDay, canners: Collection[int]) -> QuerySet[Load]:
    standing = Load.objects.exclude(state=LoadState.CANCELLED)
    return standing.filter(harvest_day=day, canner__pk__in=canners).order_by("number", "pk")


def fill_in(loads: Sequence[Load]) -> None:
    """Read at once for these loads what is in them, where they stand afterwards, and their phases."""
    prefetch_related_objects(loads, *_inside())


def _inside() -> tuple[str | Prefetch[str, QuerySet[LoadPortion], str], ...]:
    portions = LoadPortion.objects.select_related("batch").prefetch_related("batch__member").order_by("pk")
    return "cooling_table", "phases", Prefetch("portions", queryset=portions)


class Standing:
    """How far a day's planning is, for whoever looks at it from several sides: each thing is read once, when asked."""

    def __init__(self, day: HarvestDay) -> None:
        self._day = day

    @cached_property
    def jobs(self) -> Sequence[PlanJob]:
        """The day's jobs in whatever state, the newest first; light ones."""
        return _jobs(self._day)

    @property
    def newest(self) -> PlanJob | None:
        """The job asked for last."""
        return next(iter(self.jobs), None)

    @property
    def newest_planned(self) -> PlanJob | None:
        """The newest job that holds a plan."""
        done = (JobState.FINISHED, JobState.STOPPED)
        return next((one for one in self.jobs if one.has_plan and one.state in done), None)

    @property
    def open_job(self) -> PlanJob | None:
        """The job that is waiting or running."""
        return next((one for one in self.jobs if one.state in OPEN_JOB_STATES), None)

    @property
    def published(self) -> PlanJob | None:
        """The job whose plan stands."""
        told = [(one.published_at, one) for one in self.jobs if one.published_at is not None]
        return max(told, key=itemgetter(0))[1] if told else None

    @cached_property
    def started(self) -> Load | None:
        """A load that has begun."""
        return first_started_load(self._day)


def first_started_load(day: HarvestDay) -> Load | None:
    """A load that is past being planned, of which the day can no longer be planned again; None as long as none is."""
    return _started.first(day)


@prepared
def _started(day: HarvestDay) -> QuerySet[Load]:
    return started_loads(day)[:1]


def started_loads(day: HarvestDay) -> QuerySet[Load]:
    """Loads that are past being planned: they can no longer be planned again."""
    return Load.objects.filter(
        harvest_day=day, state__in=(LoadState.RUNNING, LoadState.OUT, LoadState.CLOSED)
    )


def planned_shift_has_begun(day: HarvestDay, at: datetime) -> bool:
    """True once the first shift that the day's plan asks for has begun."""
    return bool(_begun(day, at))


@prepared
def _begun(day: HarvestDay, at: datetime) -> QuerySet[HarvestDay, int]:
    days = HarvestDay.objects.filter(
        shifts__harvest_day=day,
        shifts__cancelled_at__isnull=True,
        shifts__asked_for=False,
        shifts__starts_at__lte=at,
    )
    return days.values_list("pk", flat=True)[:1]


class PlannedShift(NamedTuple):
    """A standing shift that the day's plan asks for: ``user_id`` is None while it is open, ``plan_key`` what the plan
    calls its load, None for work at no load.
    """

    pk: int
    task: str
    starts_at: datetime
    ends_at: datetime
    user_id: int | None
    plan_key: str | None


def planned_shifts(day: HarvestDay) -> list[PlannedShift]:
    """The day's standing shifts that its plan asks for, in the order of the clock."""
    return [PlannedShift(*row) for row in _planned_shifts(day)]


@prepared
def _planned_shifts(day: HarvestDay) -> QuerySet[HarvestDay, tuple[Any, ...]]:
    days = HarvestDay.objects.filter(
        shifts__harvest_day=day, shifts__cancelled_at__isnull=True, shifts__asked_for=False
    )
    told = ("pk", "task", "starts_at", "ends_at", "user_id", "load__plan_key")
    return days.order_by("shifts__starts_at", "shifts__pk").values_list(*(f"shifts__{name}" for name in told))


def other_canner_times(day: HarvestDay) -> QuerySet[CannerTime]:
    """Canner time within the day that is not the day's own: members' slots and loads of other days.

    What a member only holds comes and goes within minutes; a plan does not wait for it.
    """
    within = CannerTime.objects.filter(
        kitchen_id=day.kitchen_id, occupies=True, starts_at__lt=day.closes_at, ends_at__gt=day.opens_at
    ).filter(held_until__isnull=True)
    return within.exclude(Q(load__isnull=False) & Q(load__harvest_day=day)).order_by("pk")


def standing_jars(day: HarvestDay) -> list[Load]:
    """Loads of other days whose jars still stand on a cooling table when this day opens (rule S12)."""
    standing = jars_standing_after(day.kitchen_id, day.opens_at)
    return [load for load in standing if load.harvest_day_id != day.pk]


@prepared
def jars_standing_after(kitchen_id: int, moment: datetime) -> QuerySet[Load]:
    """Loads whose jars still stand on a cooling table then, or will (rule S12)."""
    loads = Load.objects.filter(
        harvest_day__kitchen_id=kitchen_id, cooling_table__isnull=False, stands_until__gt=moment
    )
    return loads.exclude(state=LoadState.CANCELLED).order_by("pk")


def waiting_jobs(before: datetime) -> QuerySet[PlanJob]:
    """Jobs that nobody has begun though they were asked for before this time."""
    return PlanJob.objects.filter(state=JobState.WAITING, created_at__lt=before)


def silent_jobs(before: datetime) -> QuerySet[PlanJob]:
    """Jobs begun that have not been heard of since this time."""
    return PlanJob.objects.filter(state__in=(JobState.RUNNING, JobState.STOP_ASKED), heartbeat_at__lt=before)


def carried_minutes(day: HarvestDay) -> dict[int, int]:
    """Whole minutes that people worked more than the kitchen's mean on the days of the year before this one, by user.
    What somebody does in canner time of their own is not among it.

    The mean is over those who helped at all. Whoever is at two canners at once works no longer for it. Nobody who
    did less than the mean is among them.
    """
    season = harvest_days().filter(
        kitchen=day.kitchen_id,
        date__lt=day.date,
        date__gte=day.date - SEASON,
        shifts__user__isnull=False,
        shifts__cancelled_at__isnull=True,
    )
    worked: defaultdict[int, timedelta] = defaultdict(timedelta)
    reached: dict[int, datetime] = {}
    rows = season.values_list("shifts__user", "shifts__starts_at", "shifts__ends_at")
    for user, starts, ends in sorted(rows):
        since = max(starts, reached.get(user, starts))
        worked[user] += max(ends - since, timedelta())
        reached[user] = max(ends, reached.get(user, ends))
    if not worked:
        return {}
    mean = sum(worked.values(), timedelta()) / len(worked)
    more = {user: (time - mean) // timedelta(minutes=1) for user, time in worked.items()}
    return {user: minutes for user, minutes in more.items() if minutes > 0}
