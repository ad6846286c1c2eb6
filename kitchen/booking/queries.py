"""Reads around booking: when the kitchen is open, which harvest days are held, and what a member holds or booked."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import QuerySet

from kitchen.batches.models import Slot, SlotState
from kitchen.batches.queries import slots_of, slots_of_others
from kitchen.booking.models import Hold, Waiting
from kitchen.equipment.bridge import why_out_of_service
from kitchen.equipment.queries import canners_at_hand
from kitchen.members.models import Kitchen, Membership, OpeningHours, User
from kitchen.members.queries import members_of
from kitchen.planning.models import DayState, HarvestDay, Load, LoadState
from kitchen.planning.queries import harvest_days
from kitchen.prepared import prepared

_OWN_SHOWN = 50
_OTHERS_SHOWN = 100


def opening_of(kitchen: Kitchen, day: date) -> list[tuple[datetime, datetime]]:
    """The usual opening hours of a day."""
    zone = kitchen.zone
    return [
        (datetime.combine(day, one.opens, zone), datetime.combine(day, one.closes, zone))
        for one in _hours_on(kitchen, day.weekday())
    ]


def harvest_spans(kitchen: Kitchen, day: date) -> list[tuple[datetime, datetime]]:
    """When the kitchen belongs to everybody on a day: harvest days that are not over."""
    midnight = datetime.combine(day, datetime.min.time(), kitchen.zone)
    return _harvest_spans(kitchen, midnight, midnight + timedelta(days=1))


@prepared
def _hours_on(kitchen: Kitchen, weekday: int) -> QuerySet[OpeningHours]:
    return OpeningHours.objects.filter(kitchen=kitchen, weekday=weekday)


@prepared
def _harvest_spans(
    kitchen: Kitchen, midnight: datetime, next_midnight: datetime
) -> QuerySet[HarvestDay, tuple[datetime, datetime]]:
    held = harvest_days().filter(kitchen=kitchen, opens_at__lt=next_midnight, closes_at__gt=midnight)
    return held.exclude(state=DayState.CLOSED).values_list("opens_at", "closes_at")


def open_holds_of(member: User, kitchen: Kitchen) -> QuerySet[Hold]:
    """What a member chose and neither confirmed nor let go, lapsed or not."""
    return Hold.objects.filter(
        member=member, kitchen=kitchen, slot__isnull=True, let_go_at__isnull=True
    ).select_related("canner_time")


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """A booking as it is shown: ``doubt`` says why its canner may not be used then (rule S8), empty while it may.

    ``load`` is the first of its loads, None for a time booked for nothing in particular.
    """

    slot: Slot
    doubt: str
    load: Load | None


def looked_at(slots: Iterable[Slot], kitchen: Kitchen) -> list[Booked]:
    """Bookings of a kitchen with what is against their canners now."""
    shown = list(slots)
    if not shown:
        return []
    loads = {load.slot_id: load for load in _loads_in({slot.pk for slot in shown})}
    canners = {canner.pk: canner for canner in canners_at_hand(kitchen)}
    return [
        Booked(
            slot=slot,
            doubt=why_out_of_service(
                canners[slot.canner_time.canner_id],
                slot.canner_time.starts_at.astimezone(kitchen.zone).date(),
            ),
            load=loads.get(slot.pk),
        )
        for slot in shown
    ]


@prepared
def _loads_in(slots: Collection[int]) -> QuerySet[Load]:
    standing = Load.objects.filter(slot__pk__in=slots).exclude(state=LoadState.CANCELLED)
    return standing.select_related("harvest_day").order_by("-number")


@prepared
def bookings_of(member: User, kitchen: Kitchen, after: datetime) -> QuerySet[Slot]:
    """A member's standing slots that end after this time, as many as are shown."""
    return slots_of(member, kitchen, after)[:_OWN_SHOWN]


@prepared
def bookings_of_others(member: User, kitchen: Kitchen, after: datetime) -> QuerySet[Slot]:
    """Everybody else's, the next first."""
    return slots_of_others(member, kitchen, after)[:_OTHERS_SHOWN]


@prepared
def waits_of(member: User, kitchen: Kitchen, today: date) -> QuerySet[Waiting]:
    """What a member still waits for."""
    return waiting_in(kitchen, today).filter(member=member)


@prepared
def others_in(kitchen: Kitchen, member: User) -> QuerySet[Membership]:
    """Everybody else who belongs to the kitchen, by name."""
    others = members_of(kitchen).exclude(user=member)
    return others.only("user__uuid", "user__display_name", "user__email")


def watchers_in(slot: Slot) -> tuple[User, ...]:
    """Who is to watch at a slot's loads (rule S9)."""
    watches = User.objects.filter(shifts__load__slot=slot, shifts__cancelled_at__isnull=True)
    return tuple(watches.distinct().order_by("pk"))


def slots_watched_by(user: User, kitchen: Kitchen, after: datetime) -> QuerySet[Slot]:
    """The standing slots of others at whose loads somebody is still to watch (rule S9)."""
    watched = Slot.objects.filter(
        kitchen=kitchen,
        state=SlotState.BOOKED,
        loads__shifts__user=user,
        loads__shifts__cancelled_at__isnull=True,
        loads__shifts__ends_at__gt=after,
    ).exclude(member=user)
    return watched.select_related("kitchen", "member", "canner_time__canner").distinct().order_by("pk")


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
