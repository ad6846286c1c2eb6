"""Somebody goes: home, or out of the kitchen for good. Their hours end, and what they were still to do becomes open."""

from __future__ import annotations

from datetime import datetime

from kitchen.audit.actions import record, snapshot
from kitchen.errors import BadTime
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import DayState, HarvestDay
from kitchen.rota.changing import fresh, hold_day, hold_people, open_from
from kitchen.rota.lapsing import lapse_and_tell
from kitchen.rota.models import Attendance, Shift
from kitchen.rota.queries import shifts_to_do
from kitchen.rota.telling import tell_left


def end_hours(day: HarvestDay, user: User, *, actor: User, at: datetime) -> bool:
    """End a person's hours at this minute; those still to come go. False when none were left. The day is held."""
    staying = list(
        Attendance.objects.select_for_update(of=("self",)).filter(harvest_day=day, user=user, ends_at__gt=at)
    )
    for attendance in staying:
        before = snapshot(attendance, "user", "starts_at", "ends_at")
        if attendance.starts_at < at:
            attendance.ends_at = at
            attendance.save(update_fields=["ends_at"])
        record(
            actor=actor,
            kitchen=day.kitchen,
            action="leave",
            subject=attendance,
            before=before,
            after={"left_at": at},
        )
        if attendance.starts_at >= at:
            attendance.delete()
    return bool(staying)


def leave_kitchen(*, kitchen: Kitchen, user: User, actor: User, at: datetime) -> list[Shift]:
    """Open all that a person who left was still to do here, on any day, and tell the leads.

    It belongs into the caller's transaction. Offers by them and to them lapse. Refused to who leaves by themselves
    while they are at a station: somebody has to take over first, above all at a canner (rule S9).
    """
    at = at.replace(second=0, microsecond=0)
    opened: list[Shift] = []
    days = _held_days(kitchen, at)
    hold_people(user)
    for day in days:
        mine = shifts_to_do(day, user, at)
        if actor == user and mine.filter(starts_at__lte=at).exists():
            raise BadTime(
                f"{user} is at a station now.",
                remedy="Tell the lead, who puts somebody else there; leave after that.",
            )
        end_hours(day, user, actor=actor, at=at)
        here = [open_from(fresh(one), action="open_shift", actor=actor, at=at) for one in mine]
        tell_left(day, here, lost=user, by=actor, at=at)
        lapse_and_tell(day, by=actor, at=at)
        opened.extend(here)
    return opened


def _held_days(kitchen: Kitchen, at: datetime) -> list[HarvestDay]:
    """The kitchen's days that are not over, each held: whoever leaves must not take a shift meanwhile."""
    days = HarvestDay.objects.filter(kitchen=kitchen, closes_at__gt=at).exclude(state=DayState.CLOSED)
    found = list(days.select_related("kitchen").order_by("pk"))
    for day in found:
        hold_day(day)
    return found
