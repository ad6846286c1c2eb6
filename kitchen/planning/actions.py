"""Opening harvest days, asking for plans, publishing them, and what becomes of loads."""

from __future__ import annotations

from datetime import date, datetime
from functools import partial

from django.db import IntegrityError, transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.equipment.canner_time import booking
from kitchen.errors import BadHarvestDay, PlanBreaksRule, PlanningUnderWay, PlanOutOfDate
from kitchen.hints import send_hint
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.bridge import (
    Day,
    begun_keys,
    day_digest,
    lost_keys,
    planned_day,
    question_of,
    violations_of,
)
from kitchen.planning.held import check_rota_stands
from kitchen.planning.jobs import RUN_TASK
from kitchen.planning.loads import cancel_shifts, hold_load, lock_planned_loads, move_load
from kitchen.planning.models import PLAN_SECONDS, PLAN_SEED, DayState, HarvestDay, LoadState, PlanJob
from kitchen.planning.publishing import standing_shifts, write_plan
from kitchen.planning.queries import harvest_days, published_job, started_loads
from kitchen.planning.rules import (
    check_day_hours,
    check_day_may_become,
    check_hours_may_change,
    check_may_be_planned,
    check_may_be_published,
    check_rest_may_be_planned,
)
from kitchen.planning.signals import day_closed, plan_published

MOST_SECONDS = 600
# What a lead at the stove is told to wait at the most for the rest of a day.
REST_SECONDS = 2


@transaction.atomic
def open_harvest_day(
    *, kitchen: Kitchen, day: date, opens_at: datetime, closes_at: datetime, actor: User | None
) -> HarvestDay:
    """Announce a harvest day; members may then declare batches for it and say when they can help.

    ``actor`` is None when the program opens it, for jars that must be processed again.
    """
    if actor is not None:
        check_may(actor, kitchen, Deed.PLAN_DAY)
    check_day_hours(kitchen, day, opens_at, closes_at)
    if harvest_days().filter(kitchen=kitchen, date=day).exists():
        raise BadHarvestDay(
            f"{kitchen} has a harvest day on {day} already.", remedy="Change that one instead."
        )
    opened = HarvestDay.objects.create(kitchen=kitchen, date=day, opens_at=opens_at, closes_at=closes_at)
    record(
        actor=actor,
        kitchen=kitchen,
        action="open_harvest_day",
        subject=opened,
        after=snapshot(opened, "date", "opens_at", "closes_at"),
    )
    return opened


@transaction.atomic
def change_hours(
    *, harvest_day: HarvestDay, opens_at: datetime, closes_at: datetime, actor: User
) -> HarvestDay:
    """Change when the day opens and closes; once a load has begun, only the closing. A plan made before shows as out
    of date.
    """
    check_may(actor, harvest_day.kitchen, Deed.PLAN_DAY)
    check_hours_may_change(harvest_day, opens_at)
    check_day_hours(harvest_day.kitchen, harvest_day.date, opens_at, closes_at)
    before = snapshot(harvest_day, "opens_at", "closes_at")
    harvest_day.opens_at, harvest_day.closes_at = opens_at, closes_at
    harvest_day.save(update_fields=["opens_at", "closes_at"])
    record(
        actor=actor,
        kitchen=harvest_day.kitchen,
        action="change_hours",
        subject=harvest_day,
        before=before,
        after=snapshot(harvest_day, "opens_at", "closes_at"),
    )
    return harvest_day


@transaction.atomic
def close_harvest_day(*, harvest_day: HarvestDay, actor: User) -> HarvestDay:
    """End a day for good. Loads and shifts that were planned and never begun are cancelled with it."""
    check_may(actor, harvest_day.kitchen, Deed.PLAN_DAY)
    check_day_may_become(harvest_day, DayState.CLOSED)
    lock_planned_loads(harvest_day)
    if harvest_day.loads.filter(state=LoadState.RUNNING).exists():
        raise BadHarvestDay("A load is still in a canner.", remedy="Record its jars out first.")
    before = snapshot(harvest_day, "state")
    now = timezone.now()
    for load in harvest_day.loads.filter(state=LoadState.PLANNED):
        move_load(load=load, state=LoadState.CANCELLED, at=now, actor=actor)
    cancel_shifts(harvest_day.shifts, now)
    harvest_day.state = DayState.CLOSED
    harvest_day.save(update_fields=["state"])
    record(
        actor=actor,
        kitchen=harvest_day.kitchen,
        action="close_harvest_day",
        subject=harvest_day,
        before=before,
        after=snapshot(harvest_day, "state"),
    )
    day_closed.send(sender=HarvestDay, day=harvest_day, actor=actor, at=now)
    return harvest_day


@transaction.atomic
def request_plan(
    *,
    harvest_day: HarvestDay,
    actor: User | None,
    seconds_limit: int = PLAN_SECONDS,
    seed: int = PLAN_SEED,
    now: datetime | None = None,
) -> PlanJob:
    """Ask for a plan; a worker makes it. ``actor`` is None for a command line.

    Refused: a day that is over, under way, being planned already, or contradictory in itself.
    """
    if actor is not None:
        check_may(actor, harvest_day.kitchen, Deed.PLAN_DAY)
    if not 1 <= seconds_limit <= MOST_SECONDS:
        raise BadHarvestDay(
            f"{seconds_limit} seconds are no time to plan in.",
            remedy=f"Give from 1 to {MOST_SECONDS} seconds.",
        )
    day = HarvestDay.objects.select_for_update(of=("self",)).get(pk=harvest_day.pk)
    check_may_be_planned(day)
    job = PlanJob(
        harvest_day=day,
        seconds_limit=seconds_limit,
        seed=seed,
        day_version=day.version,
        requested_by=actor,
        created_at=now or timezone.now(),
    )
    job.input_hash = day_digest(question_of(job))
    return queue_job(job, actor)


@transaction.atomic
def request_rest(
    *,
    harvest_day: HarvestDay,
    actor: User | None,
    seed: int = 1,
    early: bool = False,
    now: datetime | None = None,
) -> PlanJob:
    """Ask for the rest of a day under way, from the floor as it is now; a worker makes it in a second or two.

    ``early`` goes on from the published plan though nothing of it has begun: what stands in it is kept, as on a day
    under way. Refused: a day without a published plan, not yet open or closed for good, or being planned already.
    """
    if actor is not None:
        check_may(actor, harvest_day.kitchen, Deed.PLAN_DAY)
    now = now or timezone.now()
    day = HarvestDay.objects.select_for_update(of=("self",)).select_related("kitchen").get(pk=harvest_day.pk)
    check_rest_may_be_planned(day, max(now, day.opens_at) if early else now)
    job = PlanJob(
        harvest_day=day,
        seconds_limit=REST_SECONDS,
        seed=seed,
        day_version=day.version,
        requested_by=actor,
        created_at=now,
        floor_at=now,
        follows=published_job(day),
    )
    job.input_hash = day_digest(question_of(job))
    return queue_job(job, actor)


@booking
def publish_plan(*, job: PlanJob, actor: User | None, now: datetime | None = None) -> HarvestDay:
    """Make a job's plan the day's truth: loads, shifts and left-out jars as rows, in one transaction.

    Refused with ``PlanOutOfDate`` when anything the plan was made from has changed, or another plan was
    published first; with ``PlanBreaksRule`` when the judge finds a rule broken; with ``SlotTaken`` when a
    canner was booked meanwhile. ``actor`` is None for a command line.
    """
    now = now or timezone.now()
    kitchen = job.harvest_day.kitchen
    if actor is not None:
        check_may(actor, kitchen, Deed.PUBLISH_PLAN)
    # Bookings hold the kitchen too: lot codes go on counting over a date, and jars share the cooling tables.
    Kitchen.objects.select_for_update(no_key=True).get(pk=kitchen.pk)
    day = (
        HarvestDay.objects.select_for_update(of=("self",))
        .select_related("kitchen")
        .get(pk=job.harvest_day_id)
    )
    lock_planned_loads(day)
    job = PlanJob.objects.select_related("harvest_day__kitchen", "follows").get(pk=job.pk)
    check_may_be_published(job, day)
    question = question_of(job)
    _check_holds(job, day, question, now)
    changed = HarvestDay.objects.filter(pk=day.pk, version=job.day_version).update(
        version=job.day_version + 1, state=DayState.PUBLISHED
    )
    if not changed:
        raise PlanOutOfDate("Another plan was published first.", remedy="Plan the day again.")
    before = snapshot(day, "version", "state")
    day.refresh_from_db()
    shifts_before = standing_shifts(day, now)
    before_plan = standing.plan if (standing := published_job(day)) is not None else None
    write_plan(day, planned_day(question, job.plan, before_plan), actor=actor, at=now)
    _hold_lost(day, question, actor)
    PlanJob.objects.filter(pk=job.pk).update(published_at=now)
    record(
        actor=actor,
        kitchen=kitchen,
        action="publish_plan",
        subject=day,
        before=before,
        after={**snapshot(day, "version", "state"), "job": job.pk},
    )
    plan_published.send(
        sender=HarvestDay, day=day, shifts_before=shifts_before, replaces=before_plan is not None, at=now
    )
    return day


def _check_holds(job: PlanJob, day: HarvestDay, question: Day, at: datetime) -> None:
    """Refuse a plan that was made from something else than there is now, or that the judge finds a rule broken in."""
    if day_digest(question) != job.input_hash:
        raise PlanOutOfDate(
            "Something changed after this plan was made: a batch, a person's hours, a canner, a record or a policy.",
            remedy="Plan the day again, then publish.",
        )
    _check_none_begun_since(job, day)
    check_rota_stands(job, day, at)
    violations = violations_of(question, job.plan)
    if violations:
        raise PlanBreaksRule(
            f"The plan breaks a safety rule: {violations[0]}",
            remedy="It is not published. Plan again, and report this plan.",
            violations=violations,
        )


def _check_none_begun_since(job: PlanJob, day: HarvestDay) -> None:
    """Refuse the rest of a day when another load was begun after the floor was looked at."""
    if job.follows is None:
        return
    known = begun_keys(job.day)
    for load in started_loads(day):
        if load.plan_key not in known:
            raise PlanOutOfDate(
                f"Load {load} was begun after this plan was made.", remedy="Plan the rest of the day again."
            )


def _hold_lost(day: HarvestDay, question: Day, actor: User | None) -> None:
    """Rules S6 and S16: what lost its canner before the process ended waits for the lead's decision."""
    for key, reason in lost_keys(question).items():
        load = day.loads.get(plan_key=key, state=LoadState.RUNNING)
        hold_load(load=load, deviations=[f"{reason} The process did not run its whole time."], actor=actor)


def queue_job(job: PlanJob, actor: User | None, *, action: str = "request_plan") -> PlanJob:
    """Keep a job that nobody else asked for meanwhile, and hint at it: the end of every request for a plan."""
    try:
        with transaction.atomic():
            job.save()
    except IntegrityError as error:
        raise PlanningUnderWay(
            f"{job.harvest_day} is being planned already.", remedy="Wait for it, or stop it."
        ) from error
    record(
        actor=actor,
        kitchen=job.harvest_day.kitchen,
        action=action,
        subject=job,
        after=snapshot(job, "harvest_day", "seconds_limit", "seed", "input_hash", "floor_at", "follows"),
    )
    transaction.on_commit(partial(send_hint, RUN_TASK, job.pk), robust=True)
    return job
