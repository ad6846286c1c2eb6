"""Reads of who is there and who does what."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet

from kitchen.members.models import User
from kitchen.planning.models import HarvestDay
from kitchen.rota.models import Attendance, Shift


def attendances_of(day: HarvestDay) -> QuerySet[Attendance]:
    """Who said they will be there, and when."""
    return Attendance.objects.filter(harvest_day=day).select_related("user").order_by("user_id", "starts_at")


def rota_of(day: HarvestDay) -> QuerySet[Shift]:
    """The day's standing shifts in the order of the clock."""
    return Shift.objects.filter(harvest_day=day, cancelled_at__isnull=True).select_related("user", "load")


def shifts_of(user: User, after: datetime) -> QuerySet[Shift]:
    """A person's standing shifts that end after this time."""
    mine = Shift.objects.filter(user=user, cancelled_at__isnull=True, ends_at__gt=after)
    return mine.select_related("harvest_day__kitchen", "load")
