"""Reads of lots: the jars of one batch out of one load, with what was counted of them and where they went."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import (
    Case,
    Count,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce

from kitchen.batches.models import Batch
from kitchen.labels.lot_code import lot_code, read_lot
from kitchen.labels.models import MoveKind, ShelfMove
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import HarvestDay, Load, LoadPortion, LoadState
from kitchen.prepared import prepared
from kitchen.seals.models import SealCheck

OUT = (LoadState.OUT, LoadState.CLOSED)
"""Of loads whose jars are out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A portion with its lot code. ``sealed`` is the count that stands, None before the first.

    ``taken`` jars have left the shelf. Load, canner, day, kitchen, batch and member are at hand; of the shelf's lots
    what its list shows.
    """

    portion: LoadPortion
    code: str
    sealed: int | None
    taken: int

    @property
    def load(self) -> Load:
        """The load it was processed in."""
        return self.portion.load

    @property
    def kitchen(self) -> Kitchen:
        """Whose shelf it stands on."""
        return self.load.harvest_day.kitchen

    @property
    def member(self) -> User:
        """Whose jars these are."""
        return self.portion.batch.member

    @property
    def is_out(self) -> bool:
        """True when the jars are recorded as out."""
        return self.load.state in OUT and self.load.jars_out_at is not None

    @property
    def on_hand(self) -> int:
        """Sealed jars still on the shelf; none of those thrown out. A later count below what was taken leaves none."""
        return 0 if self.load.discarded else max((self.sealed or 0) - self.taken, 0)

    @property
    def processed_on(self) -> date | None:
        """The day, on the kitchen's wall, on which the process ended; without a record of it, the jars came out."""
        moment = self.load.process_ended_at or self.load.jars_out_at
        return None if moment is None else moment.astimezone(self.kitchen.zone).date()


def lots_of_portion(portion: LoadPortion) -> list[Lot]:
    """This one lot."""
    return _read(LoadPortion.objects.filter(pk=portion.pk))


def lots_of_batch(batch: Batch) -> list[Lot]:
    """The lots of a batch, one for each load that jars of it were in."""
    return _read(_standing().filter(batch=batch))


def lots_beside(lot: Lot) -> list[Lot]:
    """All lots of the same load and all of the same batch, this one too."""
    return _of(lot.kitchen, _beside(lot.load, lot.portion.batch))


@prepared
def _beside(load: Load, batch: Batch) -> QuerySet[LoadPortion]:
    return _with_all(_standing().filter(Q(load=load) | Q(batch=batch)))


def lots_of_load(load: Load) -> list[Lot]:
    """The lots of a load."""
    return _read(LoadPortion.objects.filter(load=load))


def lots_of_day(day: HarvestDay) -> list[Lot]:
    """All lots of a harvest day whose jars are out."""
    return _of(day.kitchen, _out_of(day))


@prepared
def _out_of(day: HarvestDay) -> QuerySet[LoadPortion]:
    return _with_all(LoadPortion.objects.filter(load__harvest_day=day, load__state__in=OUT))


def lots_named(kitchen: Kitchen, said: str) -> list[Lot]:
    """The lot with this code, or all of a load when its code alone is given; empty when there is none here."""
    load_code, place = read_lot(said)
    found = _of(kitchen, _named(kitchen, load_code))
    return [lot for lot in found if place is None or lot.code == lot_code(load_code, place)]


@prepared
def _named(kitchen: Kitchen, load_code: str) -> QuerySet[LoadPortion]:
    return _with_all(_standing().filter(load__harvest_day__kitchen=kitchen, load__lot_code=load_code))


def processed_between(kitchen: Kitchen, first: datetime, last: datetime) -> list[Lot]:
    """Lots processed in this time with jars on hand that may be eaten, the oldest first."""
    here = LoadPortion.objects.filter(
        load__harvest_day__kitchen=kitchen,
        load__state__in=OUT,
        load__discarded=False,
        load__on_hold=False,
        load__jars_out_at__range=(first, last + timedelta(days=1)),
    )
    return _read(here, Q(sealed__gt=F("taken"), done_at__range=(first, last)))


@prepared
def moves_of(portion: LoadPortion) -> QuerySet[ShelfMove]:
    """Where jars of a portion went, in the order of writing."""
    return ShelfMove.objects.filter(portion=portion).select_related("recorded_by").order_by("pk")


def may_be_again(lot: Lot) -> list[Lot]:
    """Later portions that may be this lot's unsealed jars, processed again: same member, food, pack and jar, out since.

    Those that are noted for other jars are left away.
    """
    batch, out = lot.portion.batch, lot.load.jars_out_at
    same = LoadPortion.objects.filter(
        load__harvest_day__kitchen=lot.kitchen,
        load__state__in=OUT,
        load__jars_out_at__gt=out,
        batch__member=batch.member_id,
        batch__food_id=batch.food_id,
        batch__pack=batch.pack,
        batch__jar=batch.jar,
        reprocess_of__isnull=True,
    )
    return [] if out is None else _read(same)


def _standing() -> QuerySet[LoadPortion]:
    return LoadPortion.objects.exclude(load__state=LoadState.CANCELLED)


def _read(portions: QuerySet[LoadPortion], having: Q | None = None) -> list[Lot]:
    """One query, however many lots there are."""
    shown = _with_all(portions).select_related("load__harvest_day__kitchen")
    return [_lot(row) for row in (shown if having is None else shown.filter(having))]


def _of(kitchen: Kitchen, portions: Sequence[LoadPortion]) -> list[Lot]:
    """The lots of portions that were read with all that belongs to them but their kitchen."""
    for row in portions:
        row.load.harvest_day.kitchen = kitchen
    return [_lot(row) for row in portions]


def _with_all(portions: QuerySet[LoadPortion]) -> QuerySet[LoadPortion]:
    shown = with_counts(portions).select_related("load__canner", "load__harvest_day", "batch__member")
    return shown.order_by("done_at", "load_id", "pk")


def with_counts(portions: QuerySet[LoadPortion]) -> QuerySet[Any]:
    """Each with its place in its load, the count that stands, how many jars were taken, and when it was processed."""
    before = LoadPortion.objects.filter(load=OuterRef("load"), pk__lte=OuterRef("pk"))
    # The database lets every count but the first correct one that nothing else corrects: the newest stands.
    counted = SealCheck.objects.filter(portion=OuterRef("pk"))
    moved = ShelfMove.objects.filter(portion=OuterRef("pk")).order_by().values("portion")
    back = When(kind=MoveKind.PUT_BACK, then=-F("jars"))
    signed = Sum(Case(back, default=F("jars"), output_field=IntegerField()))
    return portions.annotate(
        place=Subquery(
            before.order_by().values("load").annotate(many=Count("pk")).values("many"),
            output_field=IntegerField(),
        ),
        sealed=Subquery(counted.order_by("-pk").values("sealed")[:1], output_field=IntegerField()),
        taken=Coalesce(
            Subquery(moved.annotate(many=signed).values("many"), output_field=IntegerField()), Value(0)
        ),
        done_at=Coalesce("load__process_ended_at", "load__jars_out_at"),
    )


def lot_of(portion: LoadPortion, place: int | None, sealed: int | None, taken: int) -> Lot:
    """The lot of a portion, by its place in its load and what was counted and taken of it."""
    return Lot(portion=portion, code=lot_code(portion.load.lot_code, place or 1), sealed=sealed, taken=taken)


def _lot(row: Any) -> Lot:  # What a query adds to its rows has no type of its own.
    return lot_of(row, row.place, row.sealed, row.taken)
