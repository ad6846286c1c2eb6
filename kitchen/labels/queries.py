"""Reads of lots: the jars of one batch out of one load, with what was counted of them and where they went."""

from __future__ import annotations

from collections.abc import Collection, Sequence
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
from kitchen.members.queries import people_by_id
from kitchen.planning.models import HarvestDay, Load, LoadPortion, LoadState
from kitchen.prepared import prepared
from kitchen.seals.models import SealCheck

_OUT = (LoadState.OUT, LoadState.CLOSED)


# What the shelf shows of each lot, and no more is read.
_OF_LOAD = (
    "load__harvest_day",
    "load__lot_code",
    "load__state",
    "load__on_hold",
    "load__discarded",
    "load__deviation",
    "load__process_ended_at",
    "load__jars_out_at",
)
_OF_BATCH = ("batch__member", "batch__food_name", "batch__jar")
_NOT_COUNTED = Value(1_000_000)
"""In the place of a count that was not made: more jars than were ever taken of a lot."""


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
        return self.load.state in _OUT and self.load.jars_out_at is not None

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


def lots_of_day(day: HarvestDay) -> list[Lot]:
    """All lots of a harvest day whose jars are out."""
    return _read(LoadPortion.objects.filter(load__harvest_day=day, load__state__in=_OUT))


def lots_named(kitchen: Kitchen, said: str) -> list[Lot]:
    """The lot with this code, or all of a load when its code alone is given; empty when there is none here."""
    load_code, place = read_lot(said)
    found = _of(kitchen, _named(kitchen, load_code))
    return [lot for lot in found if place is None or lot.code == lot_code(load_code, place)]


@prepared
def _named(kitchen: Kitchen, load_code: str) -> QuerySet[LoadPortion]:
    return _with_all(_standing().filter(load__harvest_day__kitchen=kitchen, load__lot_code=load_code))


def shelf(kitchen: Kitchen, member: User | None = None) -> list[Lot]:
    """What is on the shelf, on hold or waits to be counted, the oldest first; of one member, or of all.

    Left away: lots without a sealed jar on hand, and those that a lead had thrown out.
    """
    # Named one by one, so that what is counted and taken is looked up for this kitchen's jars alone.
    days = {day.pk: day for day in _days(kitchen)}
    found = _on_shelf(days) if member is None else _on_shelf_of(days, member)
    people = people_by_id({row.batch.member_id for row in found})
    for row in found:
        row.load.harvest_day, row.batch.member = days[row.load.harvest_day_id], people[row.batch.member_id]
        row.load.harvest_day.kitchen = kitchen
    return [_lot(row) for row in found]


@prepared
def _days(kitchen: Kitchen) -> QuerySet[HarvestDay]:
    return HarvestDay.objects.filter(kitchen=kitchen).only("kitchen").order_by()


@prepared
def _on_shelf(days: Collection[int]) -> QuerySet[LoadPortion]:
    return _left_or_waiting(days)


@prepared
def _on_shelf_of(days: Collection[int], member: User) -> QuerySet[LoadPortion]:
    return _left_or_waiting(days).filter(batch__member=member)


def _left_or_waiting(days: Collection[int]) -> QuerySet[LoadPortion]:
    """The jars of these days that are left by the count that stands, wait to be counted, or are on hold."""
    here = LoadPortion.objects.filter(
        load__harvest_day__pk__in=days, load__state__in=_OUT, load__discarded=False
    )
    waiting_or_left = Q(load__on_hold=True) | Q(taken__lt=Coalesce("sealed", _NOT_COUNTED))
    lots = _rows(here).filter(waiting_or_left).select_related("load", "batch")
    lots = lots.only("jars", "uuid", *_OF_LOAD, *_OF_BATCH)
    return lots.order_by("done_at", "load_id", "pk")


def processed_between(kitchen: Kitchen, first: datetime, last: datetime) -> list[Lot]:
    """Lots processed in this time with jars on hand that may be eaten, the oldest first."""
    here = LoadPortion.objects.filter(
        load__harvest_day__kitchen=kitchen,
        load__state__in=_OUT,
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
        load__state__in=_OUT,
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
    shown = _rows(portions).select_related("load__canner", "load__harvest_day", "batch__member")
    return shown.order_by("done_at", "load_id", "pk")


def _rows(portions: QuerySet[LoadPortion]) -> QuerySet[Any]:
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


def _lot(row: Any) -> Lot:  # What a query adds to its rows has no type of its own.
    return Lot(
        portion=row, code=lot_code(row.load.lot_code, row.place or 1), sealed=row.sealed, taken=row.taken
    )
