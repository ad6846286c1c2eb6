"""What the rota's pages show: the day by station and hour, and what a member may take, with the reason where not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
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
from kitchen.rota.models import Attendance, OfferState, Shift, SwapOffer
from kitchen.rota.queries import attendances_of, offers_of, open_shifts, rota_of, standing_offers
from kitchen.rota.takers import takers_of

P = ParamSpec("P")

_MOST_LAPSED = 10


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


def my_shifts(day: HarvestDay, me: User, at: datetime) -> list[MyShift]:
    """One's own shifts of a day, those that are over as well, in the order of the clock."""
    offers = {offer.shift_id: offer for offer in standing_offers(day, at).filter(offered_by=me)}
    mine = rota_of(day).filter(user=me).order_by("starts_at", "pk")
    return [MyShift(shift=shift, offer=offers.get(shift.pk), begun=shift.starts_at <= at) for shift in mine]


def my_hours(day: HarvestDay, me: User, at: datetime) -> list[MyHours]:
    """The hours that one gave for a day."""
    mine = list(rota_of(day).filter(user=me, ends_at__gt=at).values_list("starts_at", "ends_at"))
    return [
        MyHours(
            attendance=one,
            shifts=sum(starts < one.ends_at and ends > one.starts_at for starts, ends in mine),
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
