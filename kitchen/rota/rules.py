"""When a person may be put down for a time."""

from __future__ import annotations

from datetime import datetime

from kitchen.errors import BadHarvestDay, BadMembership, BadTime
from kitchen.members.models import User
from kitchen.members.queries import membership_of, trained_on
from kitchen.planning.models import DayState, HarvestDay
from kitchen.rota.models import Attendance, Shift, Station


def check_attendance(day: HarvestDay, user: User, starts_at: datetime, ends_at: datetime) -> None:
    """Refuse hours on a closed day, outside the day's opening, or overlapping hours given before."""
    if day.state == DayState.CLOSED:
        raise BadHarvestDay(f"{day} is over.", remedy="Choose a day to come.")
    if not day.opens_at <= starts_at < ends_at <= day.closes_at:
        zone = day.kitchen.zone
        raise BadTime(
            "These hours lie outside the day, or end before they start.",
            remedy=f"The kitchen is open from {day.opens_at.astimezone(zone):%H:%M} "
            f"to {day.closes_at.astimezone(zone):%H:%M}.",
        )
    others = Attendance.objects.filter(
        harvest_day=day, user=user, starts_at__lt=ends_at, ends_at__gt=starts_at
    )
    if others.exists():
        raise BadTime(f"{user} gave hours that overlap these.", remedy="Take the old hours back first.")


def check_can_take(shift: Shift, user: User) -> None:
    """Refuse a person who is elsewhere then, does not belong here, or is not trained for the canner (rule
    S9).
    """
    kitchen = shift.harvest_day.kitchen
    if membership_of(user, kitchen) is None:
        raise BadMembership(f"{user} does not belong to {kitchen}.", remedy="Choose a member of the kitchen.")
    if shift.station == Station.CANNER and user.pk not in trained_on(kitchen, shift.harvest_day.date):
        raise BadMembership(
            f"{user} is not trained to run a canner.",
            remedy="Choose a trained person; rule S9 wants one at a hot canner.",
        )
    elsewhere = Shift.objects.filter(
        user=user, cancelled_at__isnull=True, starts_at__lt=shift.ends_at, ends_at__gt=shift.starts_at
    ).exclude(pk=shift.pk)
    if shift.station == Station.CANNER:
        watched = elsewhere.filter(station=Station.CANNER).values("load").distinct().count()
        elsewhere = elsewhere.exclude(station=Station.CANNER)
        if watched >= kitchen.canners_per_person:
            raise BadTime(
                f"{user} would watch more than {kitchen.canners_per_person} canners at once.",
                remedy="Choose another trained person (rule S9).",
            )
    if elsewhere.exists():
        raise BadTime(f"{user} is at another station then.", remedy="Choose a person who is free.")
