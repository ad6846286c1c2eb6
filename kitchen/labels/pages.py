"""What the pages of labels, lots and the shelf show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from kitchen.equipment.models import CannerKind, GaugeCheck
from kitchen.equipment.queries import checks_of, newest_of
from kitchen.errors import KitchenError
from kitchen.floor.models import RunEvent
from kitchen.floor.queries import whole_record
from kitchen.labels.models import Reprocess, ShelfMove
from kitchen.labels.queries import Lot, lots_beside, lots_of_portion, may_be_again, moves_of
from kitchen.labels.rules import labelled_by, seen_by, why_no_label
from kitchen.labels.words import best_by_of, process_words
from kitchen.members.models import User
from kitchen.members.rules import Deed, can
from kitchen.planning.models import Load, LoadPortion
from kitchen.prepared import prepared
from kitchen.rota.models import Shift
from kitchen.seals.models import HoldDecision, OfferState, ReprocessOffer, SealCheck
from kitchen.typeface import letters_missing


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A lot on a list. ``why_not`` says why it gets no label; ``past`` that its best is over."""

    lot: Lot
    best_by: date | None
    past: bool
    why_not: KitchenError | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """The shelf: what to use first on top, what is on hold, and what waits to be counted."""

    ready: tuple[Row, ...]
    on_hold: tuple[Row, ...]
    to_count: tuple[Row, ...]

    @property
    def jars(self) -> int:
        """Jars on hand that may be used."""
        return sum(row.lot.on_hand for row in self.ready)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """All that is known of a lot, back to what was brought and forward to where its jars went.

    ``corrected`` are the lines of the record that another one corrects. ``beside`` are other lots of the same load and
    ``of_batch`` other lots of the same batch, as far as the person may see them. ``was`` is the lot whose unsealed
    jars these are, ``became`` the lot that this one's are now.
    """

    lot: Lot
    process: str
    best_by: date | None
    why_not: KitchenError | None
    gauge: GaugeCheck | None
    has_dial: bool
    record: list[RunEvent]
    corrected: frozenset[int | None]
    watches: list[Shift]
    others_at_it: list[Shift]
    checks: list[SealCheck]
    holds: list[HoldDecision]
    moves: list[ShelfMove]
    beside: list[Lot]
    of_batch: list[Lot]
    was: Lot | None
    became: Lot | None
    offer: ReprocessOffer | None
    may_be_again: list[Lot]
    may_label: bool
    runs: bool


def rows(lots: Sequence[Lot], today: date) -> list[Row]:
    """The lots as lines of a list."""
    return [_row(lot, today) for lot in lots]


def shelf_of(lots: Sequence[Lot], today: date) -> Shelf:
    """Lots sorted to where they belong. The oldest comes first, which is to be used first."""
    told = rows(lots, today)
    return Shelf(
        ready=tuple(row for row in told if row.why_not is None),
        on_hold=tuple(row for row in told if row.lot.load.on_hold),
        to_count=tuple(row for row in told if row.why_not is not None and not row.lot.load.on_hold),
    )


def nameless(lots: Sequence[Lot]) -> list[tuple[str, str]]:
    """Members whose names hold letters that a label cannot print, with those letters."""
    names = dict.fromkeys(str(lot.member) for lot in lots)
    return [(name, letters_missing(name)) for name in names if letters_missing(name)]


def trace_of(lot: Lot, user: User) -> Trace:
    """What this person may see of a lot."""
    load, kitchen = lot.load, lot.kitchen
    offer = _offers.first(lot.portion)
    later: Reprocess | None = getattr(
        offer, "reprocess", None
    )  # Fetched with the offer; none is no attribute.
    earlier = _reprocesses.first(lot.portion)
    shifts, lines, near = _shifts(lot), whole_record(load), lots_beside(lot)
    runs = can(user, kitchen, Deed.RUN_LOAD)
    open_offer = offer is not None and offer.state == OfferState.BOOKED and later is None
    return Trace(
        lot=lot,
        process=process_words(load),
        best_by=best_by_of(lot),
        why_not=why_no_label(lot),
        gauge=newest_of(checks_of([load.canner_id]), load.harvest_day.date),
        has_dial=load.canner.kind == CannerKind.DIAL,
        record=lines,
        corrected=frozenset(line.corrects_id for line in lines),
        watches=[shift for shift in shifts if shift.station == "canner"],
        others_at_it=[shift for shift in shifts if shift.station != "canner"],
        checks=_counts(lot.portion),
        holds=_decisions(load),
        moves=moves_of(lot.portion),
        beside=_others(lot, [one for one in near if one.load.pk == load.pk], user),
        of_batch=_others(lot, [one for one in near if one.portion.batch_id == lot.portion.batch_id], user),
        was=_only(earlier.offer.portion) if earlier else None,
        became=_only(later.portion) if later else None,
        offer=offer,
        may_be_again=may_be_again(lot) if open_offer and runs else [],
        may_label=bool(labelled_by(user, kitchen, [lot])),
        runs=runs,
    )


def _row(lot: Lot, today: date) -> Row:
    until = best_by_of(lot)
    return Row(lot=lot, best_by=until, past=until is not None and until < today, why_not=why_no_label(lot))


def _shifts(lot: Lot) -> list[Shift]:
    """Who was at the load, by the rota as it was in the end."""
    return _held(lot.load)


@prepared
def _held(load: Load) -> QuerySet[Shift]:
    held = Shift.objects.filter(load=load, cancelled_at__isnull=True, user__isnull=False)
    return held.select_related("user").order_by("starts_at", "pk")


@prepared
def _offers(portion: LoadPortion) -> QuerySet[ReprocessOffer]:
    return ReprocessOffer.objects.filter(portion=portion).select_related("reprocess__portion")[:1]


@prepared
def _reprocesses(portion: LoadPortion) -> QuerySet[Reprocess]:
    return Reprocess.objects.filter(portion=portion).select_related("offer__portion")[:1]


@prepared
def _counts(portion: LoadPortion) -> QuerySet[SealCheck]:
    counts = SealCheck.objects.filter(portion=portion)
    return counts.select_related("checked_by", "corrected_by").order_by("pk")


@prepared
def _decisions(load: Load) -> QuerySet[HoldDecision]:
    return HoldDecision.objects.filter(load=load).select_related("decided_by").order_by("pk")


def _others(lot: Lot, lots: Sequence[Lot], user: User) -> list[Lot]:
    return [one for one in seen_by(user, lot.kitchen, lots) if one.portion.pk != lot.portion.pk]


def _only(portion: LoadPortion) -> Lot:
    (lot,) = lots_of_portion(portion)
    return lot
