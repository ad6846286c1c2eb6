"""Changes to who is there and who does what, apart from a published plan. Swaps stand in ``swaps``."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.errors import AlreadyDecided, BadTime
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may, check_may_for
from kitchen.planning.models import HarvestDay
from kitchen.rota.bridge import check_may_take, check_not_too_long
from kitchen.rota.changing import fresh, hold_day, hold_people, open_from, pass_on, taken
from kitchen.rota.lapsing import lapse_and_tell
from kitchen.rota.leaving import end_hours
from kitchen.rota.models import Attendance, Shift, Station
from kitchen.rota.queries import shifts_to_do
from kitchen.rota.rules import check_attendance, check_not_begun, check_on_harvest_day, check_wanted
from kitchen.rota.telling import tell_handed_over, tell_opened, tell_taken


@transaction.atomic
def attend(
    *, harvest_day: HarvestDay, user: User, starts_at: datetime, ends_at: datetime, actor: User
) -> Attendance:
    """Say when a person can help. A member says it for themselves, a lead for anybody."""
    check_may_for(actor, user, harvest_day.kitchen, Deed.JOIN_ROTA)
    check_attendance(harvest_day, user, starts_at, ends_at)
    attendance = Attendance.objects.create(
        harvest_day=harvest_day, user=user, starts_at=starts_at, ends_at=ends_at
    )
    record(
        actor=actor,
        kitchen=harvest_day.kitchen,
        action="attend",
        subject=attendance,
        after=snapshot(attendance, "harvest_day", "user", "starts_at", "ends_at"),
    )
    return attendance


@transaction.atomic
def count_on(
    *, harvest_day: HarvestDay, user: User, starts_at: datetime, ends_at: datetime, actor: User
) -> Attendance:
    """Put a trained person down to watch a canner that somebody else needs; the caller has checked that they may, and
    tells them.
    """
    check_attendance(harvest_day, user, starts_at, ends_at)
    attendance = Attendance.objects.create(
        harvest_day=harvest_day, user=user, starts_at=starts_at, ends_at=ends_at
    )
    record(
        actor=actor,
        kitchen=harvest_day.kitchen,
        action="count_on",
        subject=attendance,
        after=snapshot(attendance, "harvest_day", "user", "starts_at", "ends_at"),
    )
    return attendance


@transaction.atomic
def withdraw_attendance(*, attendance: Attendance, actor: User, at: datetime | None = None) -> list[Shift]:
    """Take a person's hours back, and with them the shifts in those hours, which become open: these are returned.

    A plan made with the hours shows as out of date. Refused while one of the shifts is under way.
    """
    at = at or timezone.now()
    day, user = attendance.harvest_day, attendance.user
    check_may_for(actor, user, day.kitchen, Deed.JOIN_ROTA)
    hold_day(day)
    mine = shifts_to_do(day, user, at).filter(
        starts_at__lt=attendance.ends_at, ends_at__gt=attendance.starts_at
    )
    if mine.filter(starts_at__lte=at).exists():
        raise BadTime(
            f"{user} is at a station now.", remedy="Tell the lead, who notes that somebody has gone home."
        )
    opened = [open_from(fresh(one), action="give_back", actor=actor, at=at) for one in mine]
    _take_back(attendance, actor)
    tell_opened(day, opened, by=actor, lost=user, at=at)
    lapse_and_tell(day, by=actor, at=at)
    return opened


@transaction.atomic
def stay_on(*, attendance: Attendance, ends_at: datetime, actor: User) -> Attendance:
    """Put a person down for longer, with the beginning as it was. A plan made before shows as out of date."""
    check_may_for(actor, attendance.user, attendance.harvest_day.kitchen, Deed.JOIN_ROTA)
    _take_back(attendance, actor)
    return attend(
        harvest_day=attendance.harvest_day,
        user=attendance.user,
        starts_at=attendance.starts_at,
        ends_at=ends_at,
        actor=actor,
    )


@transaction.atomic
def leave(*, harvest_day: HarvestDay, user: User, at: datetime, actor: User) -> list[Shift]:
    """Somebody has gone home: their hours end with the minute before, and what they were still to do becomes open.

    Those open shifts are returned. A plan made with the hours shows as out of date.
    """
    at = at.replace(second=0, microsecond=0)
    check_may_for(actor, user, harvest_day.kitchen, Deed.JOIN_ROTA)
    hold_day(harvest_day)
    if not end_hours(harvest_day, user, actor=actor, at=at):
        raise AlreadyDecided(f"{user} has no hours left on this day.", remedy="Choose somebody else.")
    mine = shifts_to_do(harvest_day, user, at)
    opened = [open_from(fresh(one), action="open_shift", actor=actor, at=at) for one in mine]
    tell_opened(harvest_day, opened, by=actor, lost=user, at=at)
    lapse_and_tell(harvest_day, by=actor, at=at)
    return opened


@transaction.atomic
def give_back(*, shift: Shift, actor: User, at: datetime | None = None) -> Shift:
    """Give one's shift back before it begins: it becomes open, its load stays planned, the leads are told at once.

    A lead does it for anybody and at any time; of a shift under way the rest becomes an open one, which is returned.
    """
    at = at or timezone.now()
    hold_day(shift.harvest_day)
    shift = fresh(shift)
    own = actor.pk == shift.user_id
    check_may(actor, shift.harvest_day.kitchen, Deed.JOIN_ROTA if own else Deed.ACT_FOR_OTHERS)
    if shift.user is None:
        raise AlreadyDecided("This shift is open already.", remedy="Nothing is left to do.")
    if own:
        check_on_harvest_day(shift)
        check_not_begun(shift, at)
    lost = shift.user
    opened = open_from(shift, action="give_back" if own else "open_shift", actor=actor, at=at)
    tell_opened(opened.harvest_day, [opened], by=actor, lost=lost, at=at)
    lapse_and_tell(opened.harvest_day, by=actor, at=at)
    return opened


@transaction.atomic
def take(*, shift: Shift, actor: User, at: datetime | None = None) -> Shift:
    """Take an open shift for oneself, until it ends. ``ShiftTaken`` for whoever comes second."""
    at = at or timezone.now()
    check_may(actor, shift.harvest_day.kitchen, Deed.JOIN_ROTA)
    hold_day(shift.harvest_day)
    hold_people(actor)
    shift = fresh(shift)
    if shift.user_id == actor.pk:
        raise AlreadyDecided("You have this shift already.", remedy="Nothing is left to do.")
    if shift.user is not None:
        raise taken(shift, at)
    check_may_take(shift, actor, at=at)
    shift = pass_on(shift, actor, action="take_shift", actor=actor, at=at)
    tell_taken(shift, by=actor, at=at)
    return shift


@transaction.atomic
def hand_over(*, shift: Shift, to: User, actor: User, at: datetime | None = None) -> Shift:
    """Give a shift to another person; the one who has it may, or a lead, who also fills an open one."""
    at = at or timezone.now()
    hold_day(shift.harvest_day)
    shift = fresh(shift)
    before = shift.user
    own = actor.pk == shift.user_id
    check_may(actor, shift.harvest_day.kitchen, Deed.JOIN_ROTA if own else Deed.ACT_FOR_OTHERS)
    if before == to:
        raise AlreadyDecided(f"{to} has this shift already.", remedy="Choose somebody else.")
    hold_people(before, to)
    check_may_take(shift, to, at=at)
    shift = pass_on(shift, to, action="hand_over", actor=actor, at=at)
    tell_handed_over(shift, before=before, by=actor, at=at)
    lapse_and_tell(shift.harvest_day, by=actor, at=at)
    return shift


@transaction.atomic
def want_helpers(
    *,
    harvest_day: HarvestDay,
    station: Station,
    starts_at: datetime,
    ends_at: datetime,
    count: int,
    actor: User,
    at: datetime | None = None,
) -> list[Shift]:
    """A lead asks for so many helpers at a station, apart from any plan: as many open shifts."""
    at = at or timezone.now()
    check_may(actor, harvest_day.kitchen, Deed.ASK_FOR_HELPERS)
    hold_day(harvest_day)
    check_wanted(harvest_day, starts_at, ends_at, count, at)
    wanted = [
        Shift(
            harvest_day=harvest_day,
            station=station,
            asked_for=True,
            starts_at=starts_at,
            ends_at=ends_at,
            changed_at=at,
        )
        for _ in range(count)
    ]
    check_not_too_long(harvest_day.kitchen, wanted)
    for shift in wanted:
        shift.save()
    record(
        actor=actor,
        kitchen=harvest_day.kitchen,
        action="want_helpers",
        subject=harvest_day,
        after={"station": station, "starts_at": starts_at, "ends_at": ends_at, "count": count},
    )
    return wanted


@transaction.atomic
def want_no_more(*, shift: Shift, actor: User, at: datetime | None = None) -> Shift:
    """A lead no longer asks for a helper whom nobody was yet. What a plan needs stays open."""
    at = at or timezone.now()
    check_may(actor, shift.harvest_day.kitchen, Deed.ASK_FOR_HELPERS)
    hold_day(shift.harvest_day)
    shift = fresh(shift)
    if shift.user is not None:
        raise taken(shift, at)
    if not shift.asked_for or shift.cancelled_at is not None:
        raise AlreadyDecided(
            "This shift belongs to a plan, or no longer stands.", remedy="Plan the day again instead."
        )
    shift.cancelled_at = shift.changed_at = at
    shift.sequence += 1
    shift.save(update_fields=["cancelled_at", "changed_at", "sequence"])
    record(
        actor=actor,
        kitchen=shift.harvest_day.kitchen,
        action="want_no_more",
        subject=shift,
        after=snapshot(shift, "cancelled_at"),
    )
    return shift


def _take_back(attendance: Attendance, actor: User) -> None:
    record(
        actor=actor,
        kitchen=attendance.harvest_day.kitchen,
        action="withdraw_attendance",
        subject=attendance,
        before=snapshot(attendance, "harvest_day", "user", "starts_at", "ends_at"),
    )
    attendance.delete()
