"""What is on a kitchen's shelf: a long list that is read more often than it changes, and so is read as plain values."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db import DEFAULT_DB_ALIAS
from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Coalesce

from kitchen.batches.models import Batch
from kitchen.labels.queries import OUT, Lot, lot_of, with_counts
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import HarvestDay, Load, LoadPortion
from kitchen.prepared import prepared

_NOT_COUNTED = Value(1_000_000)
"""In the place of a count that was not made: more jars than were ever taken of a lot."""


class Shelved(NamedTuple):
    """What the shelf shows of a lot, and no more: of portion, load, batch and member."""

    portion: int
    uuid: UUID
    jars: int
    place: int
    sealed: int | None
    taken: int
    load: int
    lot_code: str
    state: str
    on_hold: bool
    discarded: bool
    deviation: str
    process_ended_at: datetime | None
    jars_out_at: datetime | None
    batch: int
    food_name: str
    jar: str
    member: int
    display_name: str
    email: str


_LOAD = ("lot_code", "state", "on_hold", "discarded", "deviation", "process_ended_at", "jars_out_at")
_PATHS = {
    "portion": "pk",
    **{name: f"load__{name}" for name in _LOAD},
    **{name: f"batch__{name}" for name in ("food_name", "jar", "member")},
    **{name: f"batch__member__{name}" for name in ("display_name", "email")},
}


def shelved_in(kitchen: Kitchen, member: User | None = None) -> list[Shelved]:
    """What is on the shelf, on hold or waits to be counted, the oldest first; of one member, or of all.

    Left away: lots without a sealed jar on hand, and those that a lead had thrown out.
    """
    # Named one by one, so that what is counted and taken is looked up for this kitchen's jars alone.
    days = _days(kitchen)
    return list(map(Shelved._make, _shelved(days) if member is None else _shelved_of(days, member)))


def lots_shelved(kitchen: Kitchen, rows: Iterable[Shelved]) -> list[Lot]:
    """The same as lots, without asking for anything more."""
    return [_lot(kitchen, row) for row in rows]


def _lot(kitchen: Kitchen, row: Shelved) -> Lot:
    day = HarvestDay(kitchen=kitchen)
    load = _made(Load, row, row.load, *_LOAD)
    batch = _made(Batch, row, row.batch, "food_name", "jar")
    portion = _made(LoadPortion, row, row.portion, "uuid", "jars")
    load.harvest_day, portion.load, portion.batch = day, load, batch
    batch.member = _made(User, row, row.member, "display_name", "email")
    return lot_of(portion, row.place, row.sealed, row.taken)


def _made(model: Any, row: Shelved, key: int, *names: str) -> Any:
    """A row of a table with what was read of it. Whatever else is looked at would be read then; nothing here is."""
    known = {"id": key, **{name: getattr(row, name) for name in names}}
    # Django takes the values in the order of the table.
    told = [field.attname for field in model._meta.concrete_fields if field.attname in known]
    return model.from_db(DEFAULT_DB_ALIAS, told, [known[name] for name in told])


@prepared
def _days(kitchen: Kitchen) -> QuerySet[HarvestDay, int]:
    return HarvestDay.objects.filter(kitchen=kitchen).order_by().values_list("pk", flat=True)


@prepared
def _shelved(days: Collection[int]) -> QuerySet[LoadPortion, tuple[Any, ...]]:
    return _told(_left_or_waiting(days))


@prepared
def _shelved_of(days: Collection[int], member: User) -> QuerySet[LoadPortion, tuple[Any, ...]]:
    return _told(_left_or_waiting(days).filter(batch__member=member))


def _left_or_waiting(days: Collection[int]) -> QuerySet[LoadPortion]:
    """The jars of these days that are left by the count that stands, wait to be counted, or are on hold."""
    here = LoadPortion.objects.filter(
        Q(load__used_up=False) | Q(load__on_hold=True),
        load__harvest_day__pk__in=days,
        load__state__in=OUT,
        load__discarded=False,
    )
    waiting_or_left = Q(load__on_hold=True) | Q(taken__lt=Coalesce("sealed", _NOT_COUNTED))
    return with_counts(here).filter(waiting_or_left).order_by("done_at", "load_id", "pk")


def _told(lots: QuerySet[LoadPortion]) -> QuerySet[LoadPortion, tuple[Any, ...]]:
    return lots.values_list(*(_PATHS.get(name, name) for name in Shelved._fields))
