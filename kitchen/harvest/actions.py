"""Coming to help around busy times, and making a change that what-if found."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from kitchen.batches.actions import change_batch
from kitchen.errors import BadTime, PlanOutOfDate
from kitchen.harvest.bridge import steps_of
from kitchen.harvest.remedies import NewBatch, NewHours
from kitchen.helping.bridge import Hours, busy_between, hours_without_busy
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.actions import change_hours
from kitchen.planning.bridge import day_digest, day_of
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.queries import what_if_of
from kitchen.planning.rules import check_may_be_planned
from kitchen.rota.actions import attend, stay_on
from kitchen.rota.queries import attendances_of
from kitchen.rota.rules import check_attendance


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """The hours for which somebody is put down, and the busy times that were taken out of what they said."""

    hours: Hours
    taken_out: Hours


@transaction.atomic
def come_to_help(
    *,
    harvest_day: HarvestDay,
    user: User,
    starts_at: datetime,
    ends_at: datetime,
    actor: User,
    despite_busy: bool = False,
) -> Coming:
    """Put somebody down for these hours without the busy times of their calendars, or with them when they say so."""
    check_attendance(harvest_day, user, starts_at, ends_at)
    busy = () if despite_busy else busy_between(user, starts_at, ends_at)
    hours = hours_without_busy(user, starts_at, ends_at) if busy else ((starts_at, ends_at),)
    if not hours:
        raise BadTime(
            "Your calendar says that you are busy all that time.",
            remedy="Choose other hours, or say that you come all the same.",
        )
    for starts, ends in hours:
        attend(harvest_day=harvest_day, user=user, starts_at=starts, ends_at=ends, actor=actor)
    return Coming(hours=hours, taken_out=busy)


@transaction.atomic
def make_change(*, job: PlanJob, name: str, actor: User) -> None:
    """Make the remedy of this name: all of its steps or none, each with its own line in the audit.

    Refused with ``PlanOutOfDate`` when the day has changed since it was planned: the remedy was found for that day.
    """
    check_may(actor, job.harvest_day.kitchen, Deed.PLAN_DAY)
    day = (
        HarvestDay.objects.select_for_update(of=("self",))
        .select_related("kitchen")
        .get(pk=job.harvest_day_id)
    )
    check_may_be_planned(day)
    if day_digest(day_of(day)) != job.input_hash:
        raise PlanOutOfDate(
            "Something changed after this plan was made: a batch, a person's hours, a canner or a policy.",
            remedy="Plan the day again, then ask again.",
        )
    asked = what_if_of(job)
    if asked is None or asked.found is None:
        raise PlanOutOfDate("Nothing was found for this plan.", remedy="Ask first.")
    for step in steps_of(job.day, asked.found, name):
        match step:
            case NewHours():
                _close_at(day, step.closes_at, actor)
            case NewBatch():
                _change(day, step, actor)


def _close_at(day: HarvestDay, closes_at: datetime, actor: User) -> None:
    staying = [one for one in attendances_of(day) if one.ends_at == day.closes_at]
    change_hours(harvest_day=day, opens_at=day.opens_at, closes_at=closes_at, actor=actor)
    for attendance in staying:
        attendance.harvest_day = day
        stay_on(attendance=attendance, ends_at=closes_at, actor=actor)


def _change(day: HarvestDay, step: NewBatch, actor: User) -> None:
    change_batch(
        batch=day.batches.select_related("kitchen", "member").get(pk=step.batch_id),
        pack=step.pack,
        jar=step.jar,
        jars=step.jars,
        arrives_at=step.arrives_at,
        picks_up_at=step.picks_up_at,
        actor=actor,
    )
