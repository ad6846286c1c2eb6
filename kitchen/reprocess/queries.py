"""Reads of jars that are put down for another process."""

from __future__ import annotations

from datetime import date

from kitchen.members.models import Kitchen
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.planning.queries import harvest_days
from kitchen.reprocess.models import ReprocessBooking
from kitchen.seals.models import ReprocessOffer


def day_on(kitchen: Kitchen, on: date) -> HarvestDay | None:
    """The kitchen's harvest day of this date, in whatever state."""
    return harvest_days().filter(kitchen=kitchen, date=on).first()


def bookings_on(day: HarvestDay) -> list[ReprocessBooking]:
    """All jars that are processed again on this day."""
    booked = ReprocessBooking.objects.filter(batch__harvest_day=day).order_by("pk")
    return list(booked.select_related("batch", "offer__portion__load__harvest_day__kitchen"))


def bookings_in(load: Load) -> list[ReprocessBooking]:
    """Whose jars are processed again in this load."""
    booked = ReprocessBooking.objects.filter(batch__portions__load=load).order_by("pk")
    return list(booked.select_related("offer__portion"))


def bookings_from(load: Load) -> list[ReprocessBooking]:
    """Which jars of this load are put down for another process."""
    booked = ReprocessBooking.objects.filter(offer__portion__load=load).order_by("pk")
    return list(booked.select_related("batch__harvest_day", "batch__kitchen", "offer__portion__load"))


def booking_of(offer: ReprocessOffer) -> ReprocessBooking | None:
    """As what these jars are processed again, None while nothing is booked."""
    return ReprocessBooking.objects.filter(offer=offer).select_related("batch__harvest_day__kitchen").first()


def loads_again(booking: ReprocessBooking) -> list[Load]:
    """The loads in which these jars are processed again, with their phases."""
    loads = Load.objects.filter(portions__batch=booking.batch).exclude(state=LoadState.CANCELLED)
    return list(loads.select_related("canner", "harvest_day").prefetch_related("phases").order_by("pk"))


def standing_loads(day: HarvestDay) -> list[Load]:
    """The loads of a day that stand, with their phases."""
    return list(day.loads.exclude(state=LoadState.CANCELLED).prefetch_related("phases").order_by("pk"))
