"""Opening harvest days, asking for plans, publishing them, and what becomes of loads."""

from __future__ import annotations

from datetime import date, datetime
from functools import partial

from django.db import IntegrityError, transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.equipment.actions import booking
from kitchen.errors import BadHarvestDay, PlanBreaksRule, PlanningUnderWay, PlanOutOfDate
from kitchen.hints import send_hint
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.bridge import day_digest, day_of, planned_day, violations_of
from kitchen.planning.jobs import RUN_TASK
from kitchen.planning.loads import move_load
from kitchen.planning.models import DayState, HarvestDay, LoadState, PlanJob
from kitchen.planning.publishing import write_plan
from kitchen.planning.rules import (
    check_day_hours,
    check_day_may_become,
    check_may_be_planned,
    check_may_be_published,
)

MOST_SECONDS = 600


@transaction.atomic
def open_harvest_day(
    *, kitchen: Kitchen, day: date, opens_at: datetime, closes_at: datetime, actor: User
) -> HarvestDay:
    """Announce a harvest day; members may then declare batches for it and say when they can help."""
    check_may(actor, kitchen, Deed.PLAN_DAY)
    check_day_hours(kitchen, day, opens_at, closes_at)
    if HarvestDay.objects.filter(kitchen=kitchen, date=day).exists():
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
    """Change when the day opens and closes. A plan made before shows as out of date."""
    check_may(actor, harvest_day.kitchen, Deed.PLAN_DAY)
    check_may_be_planned(harvest_day)
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
    """End a day for good. Loads that were planned and never begun are cancelled with it."""
    check_may(actor, harvest_day.kitchen, Deed.PLAN_DAY)
    check_day_may_become(harvest_day, DayState.CLOSED)
    if harvest_day.loads.filter(state=LoadState.RUNNING).exists():
        raise BadHarvestDay("A load is still in a canner.", remedy="Record its jars out first.")
    before = snapshot(harvest_day, "state")
    for load in harvest_day.loads.filter(state=LoadState.PLANNED):
        move_load(load=load, state=LoadState.CANCELLED, at=timezone.now(), actor=actor)
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
    return harvest_day


@transaction.atomic
def request_plan(
    *,
    harvest_day: HarvestDay,
    actor: User | None,
    seconds_limit: int = 10,
    seed: int = 1,
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
    question = day_of(day)
    try:
        with transaction.atomic():
            job = PlanJob.objects.create(
                harvest_day=day,
                seconds_limit=seconds_limit,
                seed=seed,
                day_version=day.version,
                input_hash=day_digest(question),
                requested_by=actor,
                created_at=now or timezone.now(),
            )
    except IntegrityError as error:
        raise PlanningUnderWay(
            f"{day} is being planned already.", remedy="Wait for it, or stop it."
        ) from error
    record(
        actor=actor,
        kitchen=day.kitchen,
        action="request_plan",
        subject=job,
        after=snapshot(job, "harvest_day", "seconds_limit", "seed", "input_hash"),
    )
    transaction.on_commit(partial(send_hint, RUN_TASK, job.pk), robust=True)
    return job


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
    day = (
        HarvestDay.objects.select_for_update(of=("self",))
        .select_related("kitchen")
        .get(pk=job.harvest_day_id)
    )
    job = PlanJob.objects.get(pk=job.pk)
    check_may_be_published(job, day)
    question = day_of(day)
    if day_digest(question) != job.input_hash:
        raise PlanOutOfDate(
            "Something changed after this plan was made: a batch, a person's hours, a canner or a policy.",
            remedy="Plan the day again, then publish.",
        )
    violations = violations_of(question, job.plan)
    if violations:
        raise PlanBreaksRule(
            f"The plan breaks a safety rule: {violations[0]}",
            remedy="It is not published. Plan again, and report this plan.",
            violations=violations,
        )
    changed = HarvestDay.objects.filter(pk=day.pk, version=job.day_version).update(
        version=job.day_version + 1, state=DayState.PUBLISHED
    )
    if not changed:
        raise PlanOutOfDate("Another plan was published first.", remedy="Plan the day again.")
    before = snapshot(day, "version", "state")
    day.refresh_from_db()
    write_plan(day, planned_day(question, job.plan), actor=actor, at=now)
    PlanJob.objects.filter(pk=job.pk).update(published_at=now)
    record(
        actor=actor,
        kitchen=kitchen,
        action="publish_plan",
        subject=day,
        before=before,
        after={**snapshot(day, "version", "state"), "job": job.pk},
    )
    return day
