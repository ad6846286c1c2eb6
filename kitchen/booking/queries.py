"""Reads around booking: when the kitchen is open, which harvest days are held, and what a member holds or booked."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db.models import QuerySet

from kitchen.booking.models import Hold, Waiting
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import DayState, HarvestDay


def opening_of(kitchen: Kitchen, day: date) -> list[tuple[datetime, datetime]]:
    """The usual opening hours of a day."""
    zone = kitchen.zone
    return [
        (datetime.combine(day, one.opens, zone), datetime.combine(day, one.closes, zone))
        for one in kitchen.opening_hours.filter(weekday=day.weekday())
    ]


def harvest_spans(kitchen: Kitchen, day: date) -> list[tuple[datetime, datetime]]:
    """When the kitchen belongs to everybody on a day: harvest days that are not over."""
    midnight = datetime.combine(day, datetime.min.time(), kitchen.zone)
    held = HarvestDay.objects.filter(
        kitchen=kitchen, opens_at__lt=midnight + timedelta(days=1), closes_at__gt=midnight
    )
    return list(held.exclude(state=DayState.CLOSED).values_list("opens_at", "closes_at"))


def open_holds_of(member: User, kitchen: Kitchen) -> QuerySet[Hold]:
    """What a member chose and neither confirmed nor let go, lapsed or not."""
    return Hold.objects.filter(
        member=member, kitchen=kitchen, slot__isnull=True, let_go_at__isnull=True
    ).select_related("canner_time")


def lapsed_holds(now: datetime) -> QuerySet[Hold]:
    """Holds of any kitchen that ran out, and whose canner time is not free yet."""
    return Hold.objects.filter(
        slot__isnull=True,
        let_go_at__isnull=True,
        canner_time__occupies=True,
        canner_time__held_until__lte=now,
    ).select_related("canner_time__kitchen")


def waiting_in(kitchen: Kitchen, today: date) -> QuerySet[Waiting]:
    """Who still waits for a day that is not over, the longest waiting first."""
    return Waiting.objects.filter(
        kitchen=kitchen, day__gte=today, told_at__isnull=True, ended_at__isnull=True
    ).select_related("member")
