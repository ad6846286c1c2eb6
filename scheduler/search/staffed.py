"""The people of a decoded day: who does what, and what cannot be done for want of people.

The search has counted heads at every minute, rests taken out. What that does not see (who cannot work where, the way
between stations) may leave seats that nobody can take; a load with such a seat is left out, because jars are neither
filled nor watched by nobody (rules S9, S10).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import partial

from scheduler.plan import Assignment
from scheduler.problem import Day
from scheduler.rota.bearing import work_of
from scheduler.rota.canner_room import drawn_with_room
from scheduler.rota.naming import assign
from scheduler.rota.of_plan import OfPlan, assignments_of, rota_of, unfilled
from scheduler.rota.question import Taken
from scheduler.rota.solve import draw_up
from scheduler.rota.strain import Work
from scheduler.search.laid_out import LaidOut, laid_out
from scheduler.search.placed import Decoded, Placed, Score


@dataclass(frozen=True, slots=True, kw_only=True)
class Staffed:
    """A day with its people. ``decoded`` is without the loads that nobody could be found for, ``given_up`` are the
    numbers of the batches that were in them.
    """

    decoded: Decoded
    assignments: tuple[Assignment, ...]
    given_up: frozenset[int]


def staffed(day: Day, there: Day, decoded: Decoded, *, tries: int, seed: int) -> Staffed:
    """People for a decoded day; ``tries`` changes are tried to share the work out better, fewer after a load is gone.

    ``there`` is the day with the rests taken out that the search has counted on; the rota may place them otherwise.
    """
    whole = staffed_below(day, there, decoded, None, tries=tries, seed=seed)
    if whole is None:
        raise AssertionError("without a limit there is always a day, if need be one without any load")
    return whole


def staffed_below(
    day: Day, there: Day, decoded: Decoded, limit: Score | None, *, tries: int, seed: int
) -> Staffed | None:
    """People for a decoded day, or None as soon as so many loads are gone that it is no better than ``limit``."""
    given_up: set[int] = set()
    while limit is None or decoded.score < limit:
        laid = laid_out(day, decoded)
        rota, taken = _drawn(day, there, laid, tries, seed)
        missing = unfilled(rota, taken)
        if not missing:
            return Staffed(
                decoded=decoded,
                assignments=assignments_of(rota, day.people, taken),
                given_up=frozenset(given_up),
            )
        worst = max(missing, key=lambda load_id: (missing[load_id], load_id))
        gone = next(placed for load, placed in zip(laid.loads, laid.placed, strict=True) if load.id == worst)
        given_up |= {piece.batch for piece in gone.pieces}
        decoded, tries = without(day, decoded, gone), tries // 2
    return None


def work_in(day: Day, there: Day, decoded: Decoded, *, tries: int, seed: int) -> list[list[Work]]:
    """What each person does in a rota for a decoded day; seats that nobody can bear to take stay empty."""
    rota, taken = _drawn(day, there, laid_out(day, decoded), tries, seed)
    return [work_of(rota.question, taken, person) for person in range(len(day.people))]


def _drawn(day: Day, there: Day, laid: LaidOut, tries: int, seed: int) -> tuple[OfPlan, Taken]:
    named = assign(there, laid.tasks, laid.watchers)
    rota = rota_of(day, laid.loads, laid.tasks, named, hand_overs=False)
    return rota, drawn_with_room(day, rota, partial(_draw_up, tries=tries, seed=seed))


def _draw_up(rota: OfPlan, *, tries: int, seed: int) -> Taken:
    return draw_up(rota.question, rota.first, rota.first, tries=tries, seed=seed)


def without(day: Day, decoded: Decoded, gone: Placed) -> Decoded:
    """The day without one of its loads: its jars are left out."""
    loads = [placed for placed in decoded.loads if placed is not gone]
    left = decoded.left.copy()
    for piece in gone.pieces:
        left[piece.batch] += piece.jars
    out = [0] * len(day.batches)
    for placed in loads:
        for piece in placed.pieces:
            out[piece.batch] = max(out[piece.batch], placed.out)
    late = [max(0, minute - batch.pickup) for minute, batch in zip(out, day.batches, strict=True)]
    return replace(decoded, loads=loads, left=left, late=late, score=_score(loads, left, late))


def _score(loads: list[Placed], left: Iterable[int], late: Iterable[int]) -> Score:
    return (
        sum(left),
        sum(late),
        max((placed.out for placed in loads), default=0),
        sum(placed.option.minutes for placed in loads),
        len(loads),
        _changeovers(loads),
    )


def _changeovers(loads: Iterable[Placed]) -> int:
    last: dict[int, tuple[object, ...]] = {}
    changes = 0
    for placed in sorted(loads, key=lambda one: one.start):
        canner, family = placed.option.canner, placed.option.family
        changes += canner in last and last[canner] != family
        last[canner] = family
    return changes
