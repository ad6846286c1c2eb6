"""The next time that fits: the planner is asked by the same ways as for bookings and for harvest days."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from kitchen.booking.bridge import CAUTION, Offer, Wanted, offer_at, offers_on
from kitchen.booking.queries import opening_of
from kitchen.members.models import Kitchen
from kitchen.planning.models import DayState, HarvestDay
from kitchen.reprocess.queries import day_on
from kitchen.reprocess.rules import LEAST_NOTICE, deadline_of
from kitchen.seals.models import ReprocessOffer

__all__ = ["CAUTION"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A time for the jars: on a harvest day that is planned, around its loads, or in canner time of their own.

    ``offer`` is None on a harvest day; its plan says the time once it is made. ``closes_at`` is when the kitchen
    closes.
    """

    comes_at: datetime
    closes_at: datetime
    day: HarvestDay | None
    offer: Offer | None

    @property
    def key(self) -> str:
        """What a page sends back to choose this way."""
        return (
            f"day|{self.day.uuid}" if self.day is not None else f"time|{self.offer.key if self.offer else ''}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """The first way that fits, None when there is none, and why days before the deadline do not serve."""

    first: Way | None
    why_not: tuple[str, ...]


def ways_for(offer: ReprocessOffer, now: datetime) -> Ways:
    """Look at each day until the deadline."""
    kitchen, deadline = offer.portion.load.harvest_day.kitchen, deadline_of(offer)
    why_not: list[str] = []
    for on in _days(kitchen, now, deadline):
        found = _on(offer, on, deadline, now, why_not)
        if found is not None:
            return Ways(first=found, why_not=tuple(why_not))
    return Ways(first=None, why_not=tuple(why_not))


def still_offered(offer: ReprocessOffer, shown: Offer, now: datetime) -> Offer | None:
    """The same time if the planner still says it."""
    batch = offer.portion.batch
    again = offer_at(batch.kitchen, batch.member, wanted_of(offer), shown.canner, shown.arrives_at, now)
    times = (shown.comes_at, shown.starts_at, shown.ends_at)
    if again is None or (again.comes_at, again.starts_at, again.ends_at) != times or again.comes_at < now:
        return None
    return again


def wanted_of(offer: ReprocessOffer) -> Wanted:
    """The same food, pack and jar again."""
    batch = offer.portion.batch
    return Wanted(food_id=batch.food_id, pack=batch.pack, jar=batch.jar, jars=offer.jars)


def _on(offer: ReprocessOffer, on: date, deadline: datetime, now: datetime, why_not: list[str]) -> Way | None:
    batch = offer.portion.batch
    kitchen, soonest = batch.kitchen, now + LEAST_NOTICE
    day = day_on(kitchen, on)
    said = f"{on:%A %-d %B}"
    if day is not None:
        if day.state == DayState.PUBLISHED and soonest < day.closes_at and day.opens_at < deadline:
            comes = max(soonest, day.opens_at).replace(second=0, microsecond=0) + timedelta(minutes=1)
            return Way(comes_at=comes, closes_at=day.closes_at, day=day, offer=None)
        state = DayState.CLOSED if day.closes_at <= soonest else DayState(day.state)
        why_not.append(f"{said}: {_WHY[state]}")
        return None
    opening = [span for span in opening_of(kitchen, on) if span[1] > soonest and span[0] < deadline]
    if not opening:
        why_not.append(f"{said}: the kitchen is not open in time.")
        return None
    for one in offers_on(kitchen, batch.member, wanted_of(offer), on, soonest):
        if one.process_starts_at < deadline:
            closes = next(ends for starts, ends in opening_of(kitchen, on) if starts <= one.comes_at < ends)
            return Way(comes_at=one.comes_at, closes_at=closes, day=None, offer=one)
    why_not.append(f"{said}: no canner of the kind this food needs is free long enough before the deadline.")
    return None


_WHY = {
    DayState.DRAFT: "a harvest day that is not planned yet.",
    DayState.PUBLISHED: "the harvest day opens too late.",
    DayState.CLOSED: "the harvest day is over.",
}


def _days(kitchen: Kitchen, now: datetime, deadline: datetime) -> Iterator[date]:
    on = now.astimezone(kitchen.zone).date()
    while on <= deadline.astimezone(kitchen.zone).date():
        yield on
        on += timedelta(days=1)
