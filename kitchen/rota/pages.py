"""What the rota's pages show: the day by station and hour, and what a member may take, with the reason where not."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ParamSpec
from uuid import UUID

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from kitchen.errors import KitchenError
from kitchen.language.said import said
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import people_by_id
from kitchen.planning.models import HarvestDay, Load
from kitchen.planning.queries import harvest_days
from kitchen.prepared import prepared
from kitchen.rota.bridge import check_swap, check_taker
from kitchen.rota.lapsing import why_lapsed
from kitchen.rota.models import Attendance, OfferState, Shift, Station, SwapOffer
from kitchen.rota.queries import attendances_of, standing_offers, undecided_offers
from kitchen.rota.takers import Taker, takers_of

P = ParamSpec("P")

_MOST_LAPSED = 10


@dataclass(frozen=True, slots=True)
class ShiftWords:
    """When and where a shift is: hours on the kitchen's clock, and the station in the reader's language."""

    starts: str
    ends: str
    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """A shift that is told of on a person's page, with the offer of it, if any."""

    shift: Shift
    offer: SwapOffer | None

    @property
    def words(self) -> ShiftWords:
        """Of the shift."""
        return words_of(self.shift)

    @property
    def return_words(self) -> ShiftWords | None:
        """Of the shift that is asked in return."""
        return None if self.offer is None or self.offer.wants is None else words_of(self.offer.wants)


@dataclass(frozen=True, slots=True, kw_only=True)
class MyShift(_Told):
    """A shift of one's own, with the offer of it that stands, if any. ``begun``: only the lead changes it now."""

    begun: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Takeable(_Told):
    """An open shift, or an offer, and why one may not take it; ``why_not`` is None when one may."""

    why_not: KitchenError | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapsed(_Told):
    """An offer by oneself or to oneself that can no longer be accepted, and why."""

    own: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MyHours:
    """Hours that one gave, and how many shifts lie in them and go with them."""

    attendance: Attendance
    shifts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MyDay:
    """A person's own day: hours given, shifts, open shifts, offers that one could accept, and offers that lapsed."""

    hours: list[MyHours]
    shifts: list[MyShift]
    wanted: list[Takeable]
    offers: list[Takeable]
    lapsed: list[Lapsed]


def words_of(shift: Shift) -> ShiftWords:
    """When and where a shift is, in the words of the page."""
    zone = shift.harvest_day.kitchen.zone
    starts, ends = (f"{at.astimezone(zone):%H:%M}" for at in (shift.starts_at, shift.ends_at))
    return ShiftWords(starts, ends, said(Station(shift.station).label))


def day_named(kitchen: Kitchen, uuid: UUID) -> HarvestDay:
    """The kitchen's harvest day with this id; not found otherwise."""
    day = _days_named.or_404(kitchen, uuid)
    day.kitchen = kitchen  # It is read already.
    return day


@prepared
def _days_named(kitchen: Kitchen, uuid: UUID) -> QuerySet[HarvestDay]:
    return harvest_days().filter(kitchen=kitchen, uuid=uuid)


def shift_named(kitchen: Kitchen, uuid: UUID) -> Shift:
    """The kitchen's shift with this id, standing or not; not found otherwise."""
    shifts = Shift.objects.select_related("user", "load__canner", "harvest_day__kitchen")
    return get_object_or_404(shifts, harvest_day__kitchen=kitchen, uuid=uuid)


def offer_named(kitchen: Kitchen, uuid: UUID) -> SwapOffer:
    """The kitchen's offer with this id, standing or not; not found otherwise."""
    offers = SwapOffer.objects.select_related("offered_by", "to", "shift__harvest_day__kitchen", "wants")
    return get_object_or_404(offers, shift__harvest_day__kitchen=kitchen, uuid=uuid)


def my_day(day: HarvestDay, me: User, at: datetime) -> MyDay:
    """All that a person's own page of a day tells, read at once however many shifts and offers there are."""
    offers = _undecided(day, me)
    shifts = _shifts_for(day, me, offers, at)
    mine = [one for one in shifts if one.user_id == me.pk and one.cancelled_at is None]
    wanted = [one for one in shifts if one.user_id is None and one.cancelled_at is None and one.ends_at > at]
    standing = frozenset(_standing(day, at))
    known = _known(me, offers, wanted)
    return MyDay(
        hours=_my_hours(day, me, [one for one in mine if one.ends_at > at]),
        shifts=_my_shifts(mine, [one for one in offers if one.pk in standing], at),
        wanted=_open_to(me, wanted, known, at),
        offers=_offered_to(me, [one for one in offers if one.pk in standing], known, at),
        lapsed=_lapsed(me, offers, {pk for pk, taker in known.items() if taker.membership}, at),
    )


def _shifts_for(day: HarvestDay, me: User, offers: Sequence[SwapOffer], at: datetime) -> list[Shift]:
    """One's own shifts, the open ones and those in the offers, which are tied to them, with people and loads."""
    concerned = {pk for offer in offers for pk in (offer.shift_id, offer.wants_id) if pk is not None}
    shifts = {one.pk: one for one in _concerned(day, me, at, concerned)}
    loads = {one.pk: one for one in _loads({one.load_id for one in shifts.values() if one.load_id})}
    ids = {one.user_id for one in shifts.values()} | {
        pk for one in offers for pk in (one.offered_by_id, one.to_id)
    }
    people = {**people_by_id(ids - {me.pk}), me.pk: me}
    for shift in shifts.values():
        shift.harvest_day = day  # It is read already.
        shift.user = people[shift.user_id] if shift.user_id else None
        shift.load = loads[shift.load_id] if shift.load_id else None
    for offer in offers:
        offer.shift, offer.offered_by = shifts[offer.shift_id], people[offer.offered_by_id]
        offer.wants = shifts[offer.wants_id] if offer.wants_id else None
        offer.to = people[offer.to_id] if offer.to_id else None
    return list(shifts.values())


@prepared
def _undecided(day: HarvestDay, me: User) -> QuerySet[SwapOffer]:
    return undecided_offers(day, me)


@prepared
def _standing(day: HarvestDay, at: datetime) -> QuerySet[SwapOffer, int]:
    return standing_offers(day, at).values_list("pk", flat=True)


@prepared
def _concerned(day: HarvestDay, me: User, at: datetime, concerned: Collection[int]) -> QuerySet[Shift]:
    own_or_open = Q(user=me) | Q(user__isnull=True, ends_at__gt=at)
    rows = Shift.objects.filter(Q(pk__in=concerned) | Q(cancelled_at__isnull=True) & own_or_open)
    return rows.filter(harvest_day=day).order_by("starts_at", "pk")


@prepared
def _loads(pks: Collection[int]) -> QuerySet[Load]:
    return Load.objects.filter(pk__in=pks).select_related("canner").only("number", "canner__name").order_by()


@prepared
def _hours_of(day: HarvestDay, me: User) -> QuerySet[Attendance]:
    return attendances_of(day).filter(user=me).select_related(None)


def _known(me: User, offers: Sequence[SwapOffer], wanted: Sequence[Shift]) -> Mapping[int, Taker]:
    """What is known of all who are in this."""
    shifts = [*wanted, *(one for offer in offers for one in (offer.shift, offer.wants) if one is not None)]
    people = {
        me,
        *(offer.offered_by for offer in offers),
        *(offer.to for offer in offers if offer.to is not None),
    }
    return takers_of(people, shifts) if shifts else {}


def _my_shifts(mine: Sequence[Shift], standing: Sequence[SwapOffer], at: datetime) -> list[MyShift]:
    """One's own shifts of a day, those that are over as well, in the order of the clock."""
    offers = {offer.shift_id: offer for offer in standing}
    return [MyShift(shift=shift, offer=offers.get(shift.pk), begun=shift.starts_at <= at) for shift in mine]


def _my_hours(day: HarvestDay, me: User, mine: Sequence[Shift]) -> list[MyHours]:
    """The hours that one gave for a day."""
    return [
        MyHours(
            attendance=one,
            shifts=sum(shift.starts_at < one.ends_at and shift.ends_at > one.starts_at for shift in mine),
        )
        for one in _hours_of(day, me)
    ]


def _open_to(me: User, wanted: Sequence[Shift], known: Mapping[int, Taker], at: datetime) -> list[Takeable]:
    """The day's open shifts, those that one may take first."""
    found = [
        Takeable(shift=shift, offer=None, why_not=_why_not(check_taker, shift, known[me.pk], at=at))
        for shift in sorted(wanted, key=lambda one: (one.starts_at, one.station, one.pk))
    ]
    return sorted(found, key=lambda one: one.why_not is not None)


def _offered_to(
    me: User, standing: Sequence[SwapOffer], known: Mapping[int, Taker], at: datetime
) -> list[Takeable]:
    """The offers that one could accept: those to oneself, and those to anybody."""
    return [
        Takeable(
            shift=offer.shift,
            offer=offer,
            why_not=_why_not(
                check_swap, offer.shift, offer.wants, known[offer.offered_by_id], known[me.pk], at=at
            ),
        )
        for offer in standing
        if offer.offered_by_id != me.pk and offer.to_id in {None, me.pk}
    ]


def _lapsed(me: User, offers: Sequence[SwapOffer], belong: Collection[int], at: datetime) -> list[Lapsed]:
    """The newest of the offers by oneself or to oneself that lapsed, with the reason as it is now."""
    undecided = [one for one in offers if me.pk in {one.offered_by_id, one.to_id}]
    found = []
    for offer in sorted(undecided, key=lambda one: (one.created_at, one.pk), reverse=True)[:_MOST_LAPSED]:
        why = why_lapsed(offer, at, belong=belong)
        if offer.state == OfferState.LAPSED or why is not None:
            why = why or "A shift in it has changed."
            own = offer.offered_by_id == me.pk
            found.append(Lapsed(shift=offer.shift, offer=offer, own=own, why=why))
    return found


def _why_not(check: Callable[P, None], *args: P.args, **kwargs: P.kwargs) -> KitchenError | None:
    try:
        check(*args, **kwargs)
    except KitchenError as refusal:
        return refusal.with_traceback(None)  # Else what was called would stay with it.
    return None
