"""Room at the canners: a listed station has so many hands, and each person who watches takes one of them.

A rota that shares watches out may put two people where the search had one for two canners. Seats cannot say that, so
a rota that is too full is drawn up again with each watch left to whom the search had counted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from scheduler.problem import Day, Station, StationKind
from scheduler.rota.of_plan import OfPlan
from scheduler.rota.question import Taken


def drawn_with_room(day: Day, rota: OfPlan, draw: Callable[[OfPlan], Taken]) -> Taken:
    """What ``draw`` makes of a rota; once more with each watch left where it was, where too many would watch."""
    taken = draw(rota)
    return draw(with_watchers(rota)) if is_crowded(day, rota, taken) else taken


def is_crowded(day: Day, rota: OfPlan, taken: Taken) -> bool:
    """True when more people watch at some moment than the canner station has hands. Learners only look on."""
    station = next((one for one in day.stations if one.kind is StationKind.CANNER), None)
    if station is None:
        return False
    watches = [
        (seat.start, seat.end, person)
        for seat, person in zip(rota.question.seats, taken, strict=True)
        if seat.shared and person is not None
    ]
    edges = {start for start, _, _ in watches}
    edges |= {edge for one in station.hands for edge in (one.span.start, one.span.end)}
    return any(
        len({person for start, end, person in watches if start <= minute < end}) > _hands(station, minute)
        for minute in edges
    )


def with_watchers(rota: OfPlan) -> OfPlan:
    """The question in which each watch is for the person alone who has it in the first rota."""
    seats = tuple(
        replace(seat, able=seat.able & {person}) if seat.shared and person is not None else seat
        for seat, person in zip(rota.question.seats, rota.first, strict=True)
    )
    return replace(rota, question=replace(rota.question, seats=seats))


def _hands(station: Station, minute: int) -> int:
    return sum(one.count for one in station.hands if one.span.start <= minute < one.span.end)
