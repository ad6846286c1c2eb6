"""What the batches that come last rule out: they alone, with the kitchen to themselves from when they are ready.

A few batches are placed exactly, load after load on each canner, by the constraint solver; all others are dropped. Kept
are what each load holds and how long it takes, when a canner is in service, burners, kettles, hands at the fill
station, and that no load holds more than is prepared when it begins. What even these few cannot do, no day can.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from scheduler.interval import Span, subtract
from scheduler.problem import StationKind

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

    from scheduler.search.relaxed import Kind, Relaxed

# Of how many batches that come last it is asked, one question after the other.
_COUNTS = (3, 4, 5, 6)
# The solver's measure of effort for one question.
_EFFORT = 1.0
# More loads than this are not looked at: it would take too long to prove anything.
_MOST_LOADS = 48
# Person-minutes are counted in hundredths.
_PARTS = 100


@dataclass(frozen=True, slots=True)
class _Turn:
    """One load of a canner, if there is one: the first begin, then the next."""

    present: cp_model.IntVar
    start: cp_model.IntVar
    end: cp_model.IntVar
    taken: cp_model.IntervalVar
    kinds: tuple[tuple[Kind, cp_model.IntVar], ...]


def least_out_of_last(relaxed: Relaxed, known: int) -> tuple[int, str]:
    """When the last jar of the batches that come last is out at the earliest; ``known`` is a bound to begin with.

    It holds for days that leave none of them out. The name is empty when nothing better than ``known`` was shown.
    """
    by_ready = sorted(relaxed.batches, key=lambda number: (-relaxed.ready[number], number))
    best, name = known, ""
    for count in _COUNTS:
        numbers = by_ready[:count]
        if len(numbers) < count or relaxed.seconds_left() <= 0:
            break
        out = _Latest(relaxed, numbers).least_out(best)
        if out > best:
            names = ", ".join(sorted(relaxed.day.batches[number].id for number in numbers))
            best, name = out, f"the last batches to come: {names}"
    return best, name


class _Latest:
    """The model for a few batches."""

    def __init__(self, relaxed: Relaxed, numbers: Sequence[int]) -> None:
        from ortools.sat.python import cp_model  # noqa: PLC0415

        self.relaxed, self.day, self.numbers = relaxed, relaxed.day, numbers
        self.model = cp_model.CpModel()
        self.first = min(relaxed.ready[number] for number in numbers)
        self.end = relaxed.day.horizon
        self.fills = {n: min(option.fill for option in relaxed.options.by_batch[n]) for n in numbers}
        self.by_canner = {
            canner: kinds for canner in range(len(self.day.canners)) if (kinds := self._kinds(canner))
        }

    def least_out(self, known: int) -> int:
        """A proven bound, or ``known``."""
        from ortools.sat.python import cp_model  # noqa: PLC0415

        room = {canner: self._most_turns(canner, kinds) for canner, kinds in self.by_canner.items()}
        if not 0 < sum(room.values()) <= _MOST_LOADS:
            return known
        turns = {canner: self._turns(canner, room[canner]) for canner in self.by_canner}
        self._limit_burners(turns)
        flat = [turn for row in turns.values() for turn in row]
        self._place_jars(flat)
        self._limit_fill(flat)
        out = self.model.new_int_var(known, self.end, "out")
        for turn in flat:
            self.model.add(turn.end <= out).only_enforce_if(turn.present)
        self.model.minimize(out)
        solver = self.relaxed.solver(_EFFORT)
        status = solver.solve(self.model)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            return max(known, math.ceil(solver.best_objective_bound - 1e-6))
        return known

    def _kinds(self, canner: int) -> list[Kind]:
        """Kinds of loads on a canner that could hold these batches, without those to which another is better."""
        mine = [
            kind
            for kind in self.relaxed.kinds
            if kind.canner == canner and not kind.batches.isdisjoint(self.numbers)
        ]
        kept: list[Kind] = []
        for kind in sorted(mine, key=lambda one: (one.minutes, -one.jars, one.cleaning)):
            riders = kind.batches.intersection(self.numbers)
            if not any(
                riders <= other.batches and kind.jars <= other.jars and kind.cleaning >= other.cleaning
                for other in kept
            ):
                kept.append(kind)
        return kept

    def _most_turns(self, canner: int, kinds: Sequence[Kind]) -> int:
        least = min(kind.minutes for kind in kinds)
        jars = sum(self.day.batches[number].jars for number in self.numbers)
        minutes = sum(
            max(0, span.end - max(span.start, self.first)) // least
            for span in self.day.canners[canner].service
        )
        return min(jars, minutes)

    def _turns(self, canner: int, count: int) -> list[_Turn]:
        turns = [self._turn(f"{canner}, {number}", self.by_canner[canner]) for number in range(count)]
        for one, other in pairwise(turns):
            self.model.add_implication(other.present, one.present)
            cleaning = sum(kind.cleaning * chosen for kind, chosen in one.kinds)
            self.model.add(other.start >= one.end + cleaning)
        whole = Span(self.first, self.end) if self.first < self.end else None
        away = subtract((whole,), self.day.canners[canner].service) if whole else ()
        closed = [
            self.model.new_fixed_size_interval_var(span.start, span.minutes, f"{canner} closed")
            for span in away
        ]
        self.model.add_no_overlap([*(turn.taken for turn in turns), *closed])
        return turns

    def _turn(self, name: str, kinds: Sequence[Kind]) -> _Turn:
        model = self.model
        present = model.new_bool_var(f"{name} used")
        start = model.new_int_var(self.first, self.end, f"{name} start")
        end = model.new_int_var(self.first, self.end, f"{name} end")
        chosen = tuple((kind, model.new_bool_var(f"{name} kind {place}")) for place, kind in enumerate(kinds))
        model.add(sum(one for _, one in chosen) == present)
        minutes = model.new_int_var(0, max(kind.minutes for kind in kinds), f"{name} minutes")
        model.add(minutes == sum(kind.minutes * one for kind, one in chosen))
        model.add(end == start + minutes)
        taken = model.new_optional_interval_var(start, minutes, end, present, f"{name} taken")
        return _Turn(present, start, end, taken, chosen)

    def _limit_burners(self, turns: dict[int, list[_Turn]]) -> None:
        """Canners on one burner take turns."""
        by_burner: dict[str, list[_Turn]] = {}
        for canner, row in turns.items():
            by_burner.setdefault(self.day.canners[canner].burner_id, []).extend(row)
        for row in by_burner.values():
            self.model.add_no_overlap([turn.taken for turn in row])

    def _place_jars(self, turns: Sequence[_Turn]) -> None:
        """Every jar has a place in a load that may hold it, prepared and cooked when the load begins."""
        model, batches = self.model, self.day.batches
        kettles: list[cp_model.IntervalVar] = []
        jars = {
            (number, at): model.new_int_var(0, batches[number].jars, f"{number} in {at}")
            for number in self.numbers
            for at, turn in enumerate(turns)
            if any(number in kind.batches for kind, _ in turn.kinds)
        }
        for at, turn in enumerate(turns):
            mine = sum(jars[number, at] for number in self.numbers if (number, at) in jars)
            model.add(mine <= sum(kind.jars * chosen for kind, chosen in turn.kinds))
        for number in self.numbers:
            model.add(sum(jars[key] for key in jars if key[0] == number) == batches[number].jars)
        for (number, at), count in jars.items():
            kettles += self._piece(number, turns[at], count)
        if kettles and self.day.kettles:
            model.add_cumulative(kettles, [1] * len(kettles), len(self.day.kettles))

    def _piece(self, number: int, turn: _Turn, count: cp_model.IntVar) -> list[cp_model.IntervalVar]:
        """The jars of a batch in a load: when it can begin with so many, and the kettle they take."""
        model, batch = self.model, self.day.batches[number]
        there = model.new_bool_var("")
        model.add(count <= batch.jars * there)
        model.add(count <= sum(kind.jars * chosen for kind, chosen in turn.kinds if number in kind.batches))
        hands = max(1, min(self.day.policy.prep_hands, len(self.day.people)))
        each = math.floor(batch.prep_person_minutes_per_jar * _PARTS)
        since = turn.start - batch.arrival - batch.kettle_minutes
        model.add(_PARTS * hands * since >= each * count).only_enforce_if(there)
        model.add(turn.start >= self.relaxed.ready[number]).only_enforce_if(there)
        if not batch.kettle_minutes:
            return []
        model.add(count >= there)
        size = batch.kettle_minutes + self.fills[number]
        return [
            model.new_optional_fixed_size_interval_var(turn.start - batch.kettle_minutes, size, there, "")
        ]

    def _limit_fill(self, turns: Sequence[_Turn]) -> None:
        """Every load is filled by as many hands as the fill station has at most."""
        station = next((one for one in self.day.stations if one.kind is StationKind.FILL), None)
        most = (
            len(self.day.people) if station is None else max((one.count for one in station.hands), default=0)
        )
        options = [option for number in self.numbers for option in self.relaxed.options.by_batch[number]]
        hands, minutes = min(option.fill_hands for option in options), min(self.fills.values())
        fills = [
            self.model.new_optional_fixed_size_interval_var(turn.start, minutes, turn.present, "")
            for turn in turns
        ]
        self.model.add_cumulative(fills, [hands] * len(fills), max(most, hands))
