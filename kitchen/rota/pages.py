"""What the rota's pages show: the day by station and hour, and what a member may take, with the reason where not."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ParamSpec
from uuid import UUID

from django.db.models import Q
from django.shortcuts import get_object_or_404

from kitchen.errors import KitchenError
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import members_of
from kitchen.planning.models import HarvestDay
from kitchen.planning.queries import harvest_days
from kitchen.rota.bridge import check_swap, check_taker
from kitchen.rota.lapsing import why_lapsed
from kitchen.rota.models import Attendance, OfferState, Shift, Station, SwapOffer
from kitchen.rota.queries import attendances_of, offers_of, open_shifts, rota_of, standing_offers
from kitchen.rota.takers import takers_of

P = ParamSpec("P")

_HOUR = timedelta(hours=1)
_MOST_LAPSED = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Who is at a station within an hour, each name once, and how many seats are open."""

    station: str
    names: tuple[str, ...]
    open: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """A day's rota: ``hours`` pairs each hour with a cell for every station; ``stations`` lists the shifts."""

    columns: tuple[str, ...]
    hours: tuple[tuple[datetime, tuple[Cell, ...]], ...]
    stations: tuple[tuple[str, tuple[Shift, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MyShift:
    """A shift of one's own, with the offer of it that stands, if any. ``begun``: only the lead changes it now."""

    shift: Shift
    offer: SwapOffer | None
    begun: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Takeable:
    """An open shift, or an offer, and why one may not take it; ``why_not`` is None when one may."""

    shift: Shift
    offer: SwapOffer | None
    why_not: KitchenError | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapsed:
    """An offer by oneself or to oneself that can no longer be accepted, and why."""

    offer: SwapOffer
    own: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MyHours:
    """Hours that one gave, and how many shifts lie in them and go with them."""

    attendance: Attendance
    shifts: int


def day_named(kitchen: Kitchen, uuid: UUID) -> HarvestDay:
    """The kitchen's harvest day with this id; not found otherwise."""
    return get_object_or_404(harvest_days().select_related("kitchen"), kitchen=kitchen, uuid=uuid)


def shift_named(kitchen: Kitchen, uuid: UUID) -> Shift:
    """The kitchen's shift with this id, standing or not; not found otherwise."""
    shifts = Shift.objects.select_related("user", "load__canner", "harvest_day__kitchen")
    return get_object_or_404(shifts, harvest_day__kitchen=kitchen, uuid=uuid)


def offer_named(kitchen: Kitchen, uuid: UUID) -> SwapOffer:
    """The kitchen's offer with this id, standing or not; not found otherwise."""
    offers = SwapOffer.objects.select_related("offered_by", "to", "shift__harvest_day__kitchen", "wants")
    return get_object_or_404(offers, shift__harvest_day__kitchen=kitchen, uuid=uuid)


def board(day: HarvestDay) -> Board:
    """The day's rota as it stands, by station and hour. Stations at which nobody ever is are left away."""
    shifts = list(rota_of(day))
    used = [station for station in Station if any(shift.station == station for shift in shifts)]
    by_station = {
        station: sorted((s for s in shifts if s.station == station), key=lambda s: (s.starts_at, s.pk))
        for station in used
    }
    return Board(
        columns=tuple(station.label for station in used),
        hours=tuple(
            (hour, tuple(_cell(station, by_station[station], hour) for station in used))
            for hour in _hours(shifts)
        ),
        stations=tuple((station.label, tuple(by_station[station])) for station in used),
    )


def my_shifts(day: HarvestDay, me: User, at: datetime) -> list[MyShift]:
    """One's own shifts of a day, those that are over as well, in the order of the clock."""
    offers = {offer.shift_id: offer for offer in standing_offers(day, at).filter(offered_by=me)}
    mine = rota_of(day).filter(user=me).order_by("starts_at", "pk")
    return [MyShift(shift=shift, offer=offers.get(shift.pk), begun=shift.starts_at <= at) for shift in mine]


def my_hours(day: HarvestDay, me: User, at: datetime) -> list[MyHours]:
    """The hours that one gave for a day."""
    mine = list(rota_of(day).filter(user=me, ends_at__gt=at))
    return [
        MyHours(
            attendance=one,
            shifts=sum(shift.starts_at < one.ends_at and shift.ends_at > one.starts_at for shift in mine),
        )
        for one in attendances_of(day).filter(user=me)
    ]


def open_to(day: HarvestDay, me: User, at: datetime) -> list[Takeable]:
    """The day's open shifts, those that one may take first."""
    wanted = list(open_shifts(day, at))
    known = takers_of([me], wanted) if wanted else {}
    found = [
        Takeable(shift=shift, offer=None, why_not=_why_not(check_taker, shift, known[me.pk], at=at))
        for shift in wanted
    ]
    return sorted(found, key=lambda one: one.why_not is not None)


def offered_to(day: HarvestDay, me: User, at: datetime) -> list[Takeable]:
    """The offers that one could accept: those to oneself, and those to anybody."""
    offers = list(standing_offers(day, at).exclude(offered_by=me).filter(Q(to=me) | Q(to__isnull=True)))
    shifts = [shift for offer in offers for shift in (offer.shift, offer.wants) if shift is not None]
    known = takers_of([me, *(offer.offered_by for offer in offers)], shifts) if shifts else {}
    return [
        Takeable(
            shift=offer.shift,
            offer=offer,
            why_not=_why_not(
                check_swap, offer.shift, offer.wants, known[offer.offered_by_id], known[me.pk], at=at
            ),
        )
        for offer in offers
    ]


def lapsed_offers(day: HarvestDay, me: User, at: datetime) -> list[Lapsed]:
    """The newest of the day's offers by oneself or to oneself that lapsed, with the reason as it is now."""
    concerned = offers_of(day).filter(Q(offered_by=me) | Q(to=me))
    undecided = concerned.filter(state__in=(OfferState.OPEN, OfferState.LAPSED)).order_by(
        "-created_at", "-pk"
    )
    found = []
    belong = frozenset(members_of(day.kitchen).values_list("user_id", flat=True))
    for offer in undecided[:_MOST_LAPSED]:
        why = why_lapsed(offer, at, belong=belong)
        if offer.state == OfferState.LAPSED or why is not None:
            why = why or "A shift in it has changed."
            found.append(Lapsed(offer=offer, own=offer.offered_by_id == me.pk, why=why))
    return found


def _why_not(check: Callable[P, None], *args: P.args, **kwargs: P.kwargs) -> KitchenError | None:
    try:
        check(*args, **kwargs)
    except KitchenError as refusal:
        return refusal
    return None


def _hours(shifts: Iterable[Shift]) -> list[datetime]:
    """The full hours in which anybody is at work or wanted, on the kitchen's clock."""
    spans = [(shift.starts_at, shift.ends_at, shift.harvest_day.kitchen.zone) for shift in shifts]
    if not spans:
        return []
    zone = spans[0][2]
    hour = min(start for start, _, _ in spans).astimezone(zone).replace(minute=0, second=0, microsecond=0)
    last = max(end for _, end, _ in spans)
    hours = []
    while hour < last:
        if any(start < hour + _HOUR and end > hour for start, end, _ in spans):
            hours.append(hour)
        hour += _HOUR
    return hours


def _cell(station: Station, shifts: Iterable[Shift], hour: datetime) -> Cell:
    here = [shift for shift in shifts if shift.starts_at < hour + _HOUR and shift.ends_at > hour]
    return Cell(
        station=station.label,
        names=tuple(dict.fromkeys(str(shift.user) for shift in here if shift.user is not None)),
        open=sum(shift.user is None for shift in here),
    )
