"""Where hands are missing, by station and hour, in words: worked out from the open shifts."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import pairwise

from kitchen.rota.models import Shift, Station

NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


def shortages(open_shifts: Iterable[Shift], at: datetime) -> list[str]:
    """One sentence for each stretch of time in which a station lacks as many people, station by station.

    Several open watches may be one person's, up to what the kitchen allows (rule S9). What is past is left away.
    """
    waiting = [shift for shift in open_shifts if shift.user_id is None and shift.ends_at > at]
    return [
        line
        for station in Station
        for line in _of_station(station, [shift for shift in waiting if shift.station == station], at)
    ]


def _of_station(station: Station, shifts: list[Shift], at: datetime) -> Iterator[str]:
    """Stretches over which the same number is missing are told as one."""
    edges = sorted({max(moment, at) for shift in shifts for moment in (shift.starts_at, shift.ends_at)})
    told: tuple[datetime, datetime, int] | None = None
    for start, end in pairwise(edges):
        count = sum(shift.starts_at <= start < shift.ends_at for shift in shifts)
        if told is not None and told[1] == start and told[2] == count:
            told = (told[0], end, count)
            continue
        if told is not None and told[2]:
            yield _words(station, *told, shifts[0])
        told = (start, end, count)
    if told is not None and told[2]:
        yield _words(station, *told, shifts[0])


def _words(station: Station, start: datetime, end: datetime, count: int, shift: Shift) -> str:
    kitchen = shift.harvest_day.kitchen
    zone = kitchen.zone
    watch = station is Station.CANNER
    people = math.ceil(count / kitchen.canners_per_person) if watch else count
    number = NUMBERS[people] if people < len(NUMBERS) else str(people)
    wanted = "person is" if people == 1 else "people are"
    if watch:
        wanted = "trained person is" if people == 1 else "trained people are"
    who = f"{number} {wanted} missing"
    at_once = (
        f", for {NUMBERS[count] if count < len(NUMBERS) else count} canners" if watch and count > 1 else ""
    )
    hours = f"{start.astimezone(zone):%H:%M} to {end.astimezone(zone):%H:%M}"
    return f"{station.label}, {hours}: {who}{at_once}"
