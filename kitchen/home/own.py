"""What is a person's own on their page: batches, jars on the plan, shifts and canner time, read as shown and no more.

Each is written once for what is read of it.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils.safestring import SafeString

from kitchen.batches.models import Batch, Slot
from kitchen.batches.queries import batches_of, slots_of
from kitchen.booking.queries import looked_at
from kitchen.language.pieces import kept_piece
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import DayKind, LoadPhase, LoadPortion, LoadState
from kitchen.prepared import prepared
from kitchen.rota.models import Shift, Station
from kitchen.rota.queries import shifts_of

_SHIFTS_SHOWN = 60
_SLOTS_SHOWN = 20
_BATCHES_SHOWN = 30
# What the page shows of each, and no more is read.
_BATCH = ("uuid", "jars", "jar", "food_name", "state", "arrives_at", "picks_up_at")
_SLOT = (
    "canner_time__starts_at",
    "canner_time__ends_at",
    "canner_time__canner__name",
    "canner_time__canner__uuid",
)


class Jars(NamedTuple):
    """Jars of one's own in a load that is planned, under way, or out of the canner."""

    pk: int
    jars: int
    food_name: str
    canner: str
    load_state: str
    lot_code: str
    begins_at: datetime | None

    @property
    def state(self) -> str:
        """The load's state as people read it."""
        return LoadState(self.load_state).label


class Turn(NamedTuple):
    """A shift of one's own."""

    starts_at: datetime
    ends_at: datetime
    at: str
    canner: str | None
    load_number: int | None
    day: UUID
    day_kind: str

    @property
    def station(self) -> str:
        """Where it is worked, as people read it."""
        return Station(self.at).label

    @property
    def is_harvest(self) -> bool:
        """True on a day when the kitchen cans together."""
        return self.day_kind == DayKind.HARVEST


def jars_piece(kitchen: Kitchen, me: User) -> SafeString:
    """My jars on the plan, the first to begin first."""
    rows = [Jars(*row) for row in _jars_of(me, kitchen)]
    return kept_piece("home/jars.html", rows, lambda: {"portions": rows}, kitchen.zone)


def shifts_piece(kitchen: Kitchen, me: User, since: datetime) -> SafeString:
    """My shifts that end after this time, day by day."""
    rows = [Turn(*row) for row in _turns_of(me, kitchen, since)]
    shown = {"kitchen": kitchen, "shifts": rows}
    return kept_piece("home/shifts.html", (kitchen.slug, rows), lambda: shown, kitchen.zone)


def batches_piece(kitchen: Kitchen, me: User) -> SafeString:
    """What I bring to harvest days, the next to arrive first. What is taken back goes through the form "take-back"."""
    rows = _batches_of(me, kitchen)
    facts = [tuple(getattr(row, name) for name in _BATCH) for row in rows]
    shown = {"kitchen": kitchen, "batches": rows}
    return kept_piece("home/batches.html", (kitchen.slug, facts), lambda: shown, kitchen.zone)


def slots_piece(kitchen: Kitchen, me: User, since: datetime) -> SafeString | None:
    """My canner time that ends after this time, with what is against its canner now; None when I booked none."""
    rows = looked_at(_slots_of(me, kitchen, since), kitchen)
    facts = [
        (
            row.slot.canner_time.starts_at,
            row.slot.canner_time.ends_at,
            row.slot.canner_time.canner.name,
            row.slot.canner_time.canner.uuid,
            row.doubt,
            row.load and row.load.harvest_day.uuid,
        )
        for row in rows
    ]
    shown = {"kitchen": kitchen, "slots": rows}
    return kept_piece("home/slots.html", (kitchen.slug, facts), lambda: shown, kitchen.zone) if rows else None


@prepared
def _jars_of(me: User, kitchen: Kitchen) -> QuerySet[LoadPortion, tuple[Any, ...]]:
    mine = LoadPortion.objects.filter(
        batch__member=me,
        load__harvest_day__kitchen=kitchen,
        load__state__in=(LoadState.PLANNED, LoadState.RUNNING, LoadState.OUT),
    )
    told = mine.values_list(
        "pk", "jars", "batch__food_name", "load__canner__name", "load__state", "load__lot_code"
    )
    # As ``Load.begins_at`` has it, asked of the database.
    phases = LoadPhase.objects.filter(load=OuterRef("load")).order_by("starts_at").values("starts_at")
    begins_at = Coalesce("load__canner_time__starts_at", Subquery(phases[:1]))
    return told.annotate(begins_at=begins_at).order_by("begins_at", "pk")


@prepared
def _turns_of(me: User, kitchen: Kitchen, since: datetime) -> QuerySet[Shift, tuple[Any, ...]]:
    told = shifts_of(me, since).filter(harvest_day__kitchen=kitchen).order_by("starts_at", "pk")
    return told.values_list(
        "starts_at",
        "ends_at",
        "station",
        "load__canner__name",
        "load__number",
        "harvest_day__uuid",
        "harvest_day__kind",
    )[:_SHIFTS_SHOWN]


@prepared
def _batches_of(me: User, kitchen: Kitchen) -> QuerySet[Batch]:
    return batches_of(me, kitchen).filter(harvest_day__isnull=False).only(*_BATCH)[:_BATCHES_SHOWN]


@prepared
def _slots_of(me: User, kitchen: Kitchen, since: datetime) -> QuerySet[Slot]:
    slots = slots_of(me, kitchen, since).select_related(None).select_related("canner_time__canner")
    return slots.only(*_SLOT)[:_SLOTS_SHOWN]
