"""Changes to who is there and who does what, apart from a published plan."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.errors import AlreadyDecided
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may, check_may_for
from kitchen.planning.models import HarvestDay
from kitchen.rota.models import Attendance, Shift
from kitchen.rota.rules import check_attendance, check_can_take


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
def withdraw_attendance(*, attendance: Attendance, actor: User) -> None:
    """Take a person's hours back. A plan made with them shows as out of date."""
    check_may_for(actor, attendance.user, attendance.harvest_day.kitchen, Deed.JOIN_ROTA)
    record(
        actor=actor,
        kitchen=attendance.harvest_day.kitchen,
        action="withdraw_attendance",
        subject=attendance,
        before=snapshot(attendance, "harvest_day", "user", "starts_at", "ends_at"),
    )
    attendance.delete()


@transaction.atomic
def stay_on(*, attendance: Attendance, ends_at: datetime, actor: User) -> Attendance:
    """Put a person down for longer, with the beginning as it was. A plan made before shows as out of date."""
    withdraw_attendance(attendance=attendance, actor=actor)
    return attend(
        harvest_day=attendance.harvest_day,
        user=attendance.user,
        starts_at=attendance.starts_at,
        ends_at=ends_at,
        actor=actor,
    )


@transaction.atomic
def leave(*, harvest_day: HarvestDay, user: User, at: datetime, actor: User) -> None:
    """Somebody has gone home: their hours end with the minute before. A plan made with them shows as out of date."""
    at = at.replace(second=0, microsecond=0)
    check_may_for(actor, user, harvest_day.kitchen, Deed.JOIN_ROTA)
    staying = Attendance.objects.select_for_update(of=("self",)).filter(
        harvest_day=harvest_day, user=user, ends_at__gt=at
    )
    if not staying.exists():
        raise AlreadyDecided(f"{user} has no hours left on this day.", remedy="Choose somebody else.")
    for attendance in staying:
        before = snapshot(attendance, "user", "starts_at", "ends_at")
        if attendance.starts_at < at:
            attendance.ends_at = at
            attendance.save(update_fields=["ends_at"])
        record(
            actor=actor,
            kitchen=harvest_day.kitchen,
            action="leave",
            subject=attendance,
            before=before,
            after={"left_at": at},
        )
        if attendance.starts_at >= at:
            attendance.delete()


@transaction.atomic
def hand_over(*, shift: Shift, to: User, actor: User, at: datetime | None = None) -> Shift:
    """Give a published shift to another person; the one who has it may, or a lead."""
    kitchen = shift.harvest_day.kitchen
    check_may(actor, kitchen, Deed.JOIN_ROTA if actor.pk == shift.user_id else Deed.ACT_FOR_OTHERS)
    if shift.cancelled_at is not None:
        raise AlreadyDecided("This shift no longer stands.", remedy="Look at the newest rota.")
    check_can_take(shift, to)
    before = snapshot(shift, "user")
    shift.user = to
    shift.sequence += 1
    shift.changed_at = at or timezone.now()
    shift.save(update_fields=["user", "sequence", "changed_at"])
    record(
        actor=actor,
        kitchen=kitchen,
        action="hand_over",
        subject=shift,
        before=before,
        after=snapshot(shift, "user"),
    )
    return shift
