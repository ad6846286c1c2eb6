"""Reads of batches and slots."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet

from kitchen.batches.models import Batch, BatchState, Slot, SlotStand, SlotState
from kitchen.members.models import Kitchen, OpeningHours, User
from kitchen.prepared import prepared


def batches_of(user: User, kitchen: Kitchen) -> QuerySet[Batch]:
    """A member's batches, the next to arrive first."""
    return Batch.objects.filter(member=user, kitchen=kitchen).exclude(state=BatchState.CANCELLED)


def batches_of_day(harvest_day_id: int) -> QuerySet[Batch]:
    """A harvest day's standing batches, by primary key: what the planner is told."""
    standing = Batch.objects.filter(harvest_day_id=harvest_day_id).exclude(state=BatchState.CANCELLED)
    return standing.select_related("member").order_by("pk")


def slots_of(user: User, kitchen: Kitchen, after: datetime) -> QuerySet[Slot]:
    """A member's standing slots that end after this time."""
    mine = Slot.objects.filter(member=user, kitchen=kitchen, state=SlotState.BOOKED)
    return mine.filter(canner_time__ends_at__gt=after).select_related("canner_time__canner", "batch")


def slots_of_others(user: User, kitchen: Kitchen, after: datetime) -> QuerySet[Slot]:
    """Everybody else's standing slots that end after this time, the next first."""
    theirs = Slot.objects.filter(kitchen=kitchen, state=SlotState.BOOKED).exclude(member=user)
    later = theirs.filter(canner_time__ends_at__gt=after).order_by("canner_time__starts_at", "pk")
    return later.select_related("canner_time__canner", "batch", "member")


def slots_to_come(user: User, kitchen: Kitchen, after: datetime) -> QuerySet[Slot]:
    """A member's standing slots that begin after this time."""
    return slots_of(user, kitchen, after).filter(canner_time__starts_at__gt=after)


def slots_standing(kitchen: Kitchen, after: datetime) -> QuerySet[Slot]:
    """Everybody's standing slots that end after this time, with who booked them and for what."""
    standing = Slot.objects.filter(kitchen=kitchen, state=SlotState.BOOKED, canner_time__ends_at__gt=after)
    return standing.select_related("canner_time__canner", "kitchen", "member").order_by("pk")


@prepared
def slot_stands_after(kitchen: Kitchen, moment: datetime) -> QuerySet[SlotStand]:
    """What the jars of standing slots take on cooling tables from then on (rule S12)."""
    standing = SlotStand.objects.filter(slot__kitchen=kitchen, slot__state=SlotState.BOOKED)
    return standing.filter(ends_at__gt=moment).order_by("pk")


def opening_between(kitchen: Kitchen, starts_at: datetime, ends_at: datetime) -> OpeningHours | None:
    """The usual opening hours that hold the whole span, or None. A span past midnight is never held."""
    start, end = starts_at.astimezone(kitchen.zone), ends_at.astimezone(kitchen.zone)
    if start.date() != end.date():
        return None
    hours = kitchen.opening_hours.filter(weekday=start.weekday(), opens__lte=start.time())
    return hours.filter(closes__gte=end.time()).first()
