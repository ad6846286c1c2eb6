"""A day's rota as everybody reads it, by the hour and shift by shift: read as plain values, written once for each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import QuerySet
from django.utils.safestring import SafeString

from kitchen.language.pieces import kept_piece
from kitchen.planning.models import HarvestDay
from kitchen.prepared import prepared
from kitchen.rota.models import Attendance, Shift, Station

_HOUR = timedelta(hours=1)


class Seat(NamedTuple):
    """A standing shift: ``name`` and ``email`` are None while it is open, ``canner`` and ``number`` of what has no
    load.
    """

    station: str
    task: str
    starts_at: datetime
    ends_at: datetime
    name: str | None
    email: str | None
    canner: str | None
    number: int | None
    uuid: UUID

    @property
    def person(self) -> str:
        """Who has it; empty for nobody."""
        return self.name or self.email or ""

    @property
    def is_watch(self) -> bool:
        """True for standing at a canner."""
        return self.station == Station.CANNER.value


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
    stations: tuple[tuple[str, tuple[Seat, ...]], ...]


def seats_of(day: HarvestDay) -> tuple[Seat, ...]:
    """The day's standing shifts in the order of the clock."""
    return tuple(map(Seat._make, _seats(day)))


@prepared
def _seats(day: HarvestDay) -> QuerySet[Shift, tuple[Any, ...]]:
    rows = Shift.objects.filter(harvest_day=day, cancelled_at__isnull=True).order_by("starts_at", "pk")
    return rows.values_list(
        "station",
        "task",
        "starts_at",
        "ends_at",
        "user__display_name",
        "user__email",
        "load__canner__name",
        "load__number",
        "uuid",
    )


def board(seats: Sequence[Seat], zone: tzinfo) -> Board:
    """The rota by station and hour. Stations at which nobody ever is are left away."""
    by_station = {station: [seat for seat in seats if seat.station == station.value] for station in Station}
    used = [station for station in Station if by_station[station]]
    return Board(
        columns=tuple(station.label for station in used),
        hours=tuple(
            (hour, tuple(_cell(station, by_station[station], hour) for station in used))
            for hour in _hours(seats, zone)
        ),
        stations=tuple((station.label, tuple(by_station[station])) for station in used),
    )


def hours_piece(day: HarvestDay, seats: Sequence[Seat]) -> SafeString:
    """Who is where, hour by hour."""
    zone = day.kitchen.zone
    facts = [seat[:6] for seat in seats]
    return kept_piece("rota/board.html", facts, lambda: {"board": board(seats, zone)}, zone)


def shifts_piece(day: HarvestDay, seats: Sequence[Seat], *, lead: bool) -> SafeString:
    """Every shift, station by station; with the way to change it for a lead."""
    zone, kitchen = day.kitchen.zone, day.kitchen.slug
    facts = (kitchen, lead, [tuple(seat) for seat in seats] if lead else [seat[:8] for seat in seats])
    return kept_piece(
        "rota/shifts.html",
        facts,
        lambda: {"board": board(seats, zone), "lead": lead, "slug": kitchen},
        zone,
    )


def attendance_piece(day: HarvestDay) -> SafeString:
    """Who said they will be there, and when."""
    rows = Attendance.objects.filter(harvest_day=day).order_by("user_id", "starts_at")
    there = [
        (name or email, starts_at, ends_at)
        for name, email, starts_at, ends_at in rows.values_list(
            "user__display_name", "user__email", "starts_at", "ends_at"
        )
    ]
    return kept_piece("rota/there.html", there, lambda: {"there": there}, day.kitchen.zone)


def _hours(seats: Iterable[Seat], zone: tzinfo) -> list[datetime]:
    """The full hours in which anybody is at work or wanted, on the kitchen's clock."""
    spans = [(seat.starts_at, seat.ends_at) for seat in seats]
    if not spans:
        return []
    hour = min(start for start, _ in spans).astimezone(zone).replace(minute=0, second=0, microsecond=0)
    last = max(end for _, end in spans)
    hours = []
    while hour < last:
        if any(start < hour + _HOUR and end > hour for start, end in spans):
            hours.append(hour)
        hour += _HOUR
    return hours


def _cell(station: Station, seats: Iterable[Seat], hour: datetime) -> Cell:
    here = [seat for seat in seats if seat.starts_at < hour + _HOUR and seat.ends_at > hour]
    return Cell(
        station=station.label,
        names=tuple(dict.fromkeys(seat.person for seat in here if seat.person)),
        open=sum(not seat.person for seat in here),
    )
