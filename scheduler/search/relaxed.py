"""A day with most of its rules dropped, so that the constraint solver can say what no day can beat.

Kept are the jars of every batch, whole loads of every kind with what each holds and how long it takes, and for each
resource that everything needing it fits into the time it has. Dropped are all orders and times within a day. What even
this cannot do, no plan can.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING

from scheduler.interval import Span, intersect
from scheduler.problem import Day, StationKind
from scheduler.search.options import Option, Options
from scheduler.search.sharing import sharing_of

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

# The solver's measure of effort for one question to it, the same on every machine; about a second.
_EFFORT = 0.25
# Loads are counted by how late their batches are ready, in so many steps at most.
_STEPS = 24
# The first stride, in minutes, in which a bound on the last hour is tried to be raised.
_FIRST_STRIDE = 8
# Person-minutes are counted in hundredths.
_PARTS = 100


@dataclass(frozen=True, slots=True)
class Kind:
    """Loads alike as far as this goes: canner, room, minutes, and what they ask of people and kettles."""

    canner: int
    jars: int
    minutes: int
    cleaning: int
    heat_on: int
    watch_minutes: int
    fill_person_minutes: int
    kettle_minutes: int
    batches: frozenset[int]


class Limit(StrEnum):
    """A resource whose limit can be kept or dropped."""

    CANNERS = "canner hours"
    WATCHES = "trained people at the canners"
    PREP = "hands at the prep station"
    FILL = "hands at the fill station"
    KETTLES = "kettles"
    PEOPLE = "everybody's hands"


_ALL = frozenset(Limit)

Stretch = tuple[Span, ...]
"""One span, or none when it would be empty."""


def _stretch(start: int, end: int) -> Stretch:
    return (Span(start, end),) if end > start else ()


@dataclass(slots=True)
class _Model:
    """The solver's model for a moment by which the last jar is out, or the day's end."""

    model: cp_model.CpModel
    jars: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    left: dict[int, cp_model.IntVar] = field(default_factory=dict)
    loads: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)


class Relaxed:
    """One day, relaxed. ``ready`` is when the first jar of each batch could be filled."""

    def __init__(
        self,
        day: Day,
        options: Options,
        ready: Sequence[int],
        impossible: Iterable[int],
        seconds_left: Callable[[], float],
    ) -> None:
        self.day, self.options, self.ready, self.seconds_left = day, options, ready, seconds_left
        hopeless = set(impossible)
        self.batches = [number for number in range(len(day.batches)) if number not in hopeless]
        self.kinds = self._kinds()
        times = sorted({ready[number] for number in self.batches})
        self.steps = sorted({times[len(times) * n // _STEPS] for n in range(_STEPS)}) if times else []

    def _kinds(self) -> list[Kind]:
        """Each host kind with every batch that may ride in it."""
        flat = [option for number in self.batches for option in self.options.by_batch[number]]
        sharing = sharing_of(self.day, flat)
        rows: dict[int, list[Option]] = {}
        for option, number in zip(flat, sharing.kinds, strict=True):
            rows.setdefault(number, []).append(option)
        return [
            self._kind(
                hosts,
                [
                    guest
                    for guest, number in zip(flat, sharing.kinds, strict=True)
                    if sharing.may_share[host, number]
                ],
            )
            for host, hosts in rows.items()
        ]

    def _kind(self, hosts: Sequence[Option], guests: Sequence[Option]) -> Kind:
        batches = [self.day.batches[option.batch] for option in hosts]
        riders = {option.batch for option in [*hosts, *guests]}
        return Kind(
            canner=hosts[0].canner,
            jars=max(option.jars for option in hosts),
            minutes=min(option.minutes for option in hosts),
            cleaning=self.day.policy.cleaning_minutes if batches[0].meat_or_fish else 0,
            heat_on=min(option.heat_on for option in hosts),
            watch_minutes=min(option.watch_minutes for option in hosts),
            fill_person_minutes=min(option.fill * option.fill_hands for option in hosts),
            kettle_minutes=min(
                self.day.batches[number].kettle_minutes + min(option.fill for option in hosts)
                if self.day.batches[number].kettle_minutes
                else 0
                for number in riders
            ),
            batches=frozenset(riders),
        )

    # ---- the questions -----------------------------------------------------------------------------------------------

    def least_left_out(self) -> int:
        """Jars that must be left out, of those batches that are not impossible."""
        built = self._model(self.day.horizon, None, _ALL)
        return self._least(built, sum(built.left.values()))

    def least_canner_minutes(self, left_out: int) -> int:
        """Minutes that canners are taken at least by a day that leaves out no more than so many jars."""
        built = self._model(self.day.horizon, left_out, _ALL)
        first = self.steps[0]
        return self._least(
            built, sum(kind.minutes * built.loads[place, first] for place, kind in enumerate(self.kinds))
        )

    def least_loads(self, left_out: int) -> int:
        """Loads that a day needs at least that leaves out no more than so many jars."""
        built = self._model(self.day.horizon, left_out, _ALL)
        return self._least(built, sum(built.loads[place, self.steps[0]] for place in range(len(self.kinds))))

    def least_last_out(self, left_out: int, known: int) -> tuple[int, str]:
        """When the last jar can be out at the earliest, and what proves it; ``known`` is a bound to begin with.

        The day leaves out no more than so many jars. The name is empty when nothing better than ``known`` was shown.
        """
        # First in growing strides, since what is hard to prove costs most; then between the last two.
        proven, stride = known, _FIRST_STRIDE
        while proven < self.day.horizon and self._impossible(proven + stride - 1, left_out, _ALL):
            proven, stride = proven + stride, 2 * stride
        while stride > 1:
            stride //= 2
            if self._impossible(proven + stride - 1, left_out, _ALL):
                proven += stride
        return proven, self._name(proven - 1, left_out) if proven > known else ""

    def _name(self, out: int, left_out: int) -> str:
        """The resource that alone, and from which moment, rules out that the last jar is out by then."""
        for limit in Limit:
            if self._impossible(out, left_out, frozenset({limit})):
                return str(limit)
        return "canners, people and kettles together"

    # ---- the model ---------------------------------------------------------------------------------------------------

    def _impossible(self, out: int, left_out: int, limits: frozenset[Limit]) -> bool:
        """True when the solver shows that no day has its last jar out by then."""
        from ortools.sat.python import cp_model  # noqa: PLC0415

        if self.seconds_left() <= 0:
            return False
        built = self._model(out, left_out, limits)
        return self.solver().solve(built.model) == cp_model.INFEASIBLE

    def _least(self, built: _Model, what: cp_model.LinearExprT) -> int:
        """The least of a count that the solver shows within its effort; 0 when it shows none."""
        from ortools.sat.python import cp_model  # noqa: PLC0415

        if self.seconds_left() <= 0:
            return 0
        built.model.minimize(what)
        solver = self.solver()
        status = solver.solve(built.model)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            return max(0, math.ceil(solver.best_objective_bound - 1e-6))
        return 0

    def solver(self, effort: float = _EFFORT) -> cp_model.CpSolver:
        """The solver, bounded in effort, the same on every machine; one unit is about a few seconds."""
        from ortools.sat.python import cp_model  # noqa: PLC0415 - heavy, and most plans need no proof.

        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.max_deterministic_time = effort
        solver.parameters.max_time_in_seconds = max(self.seconds_left(), 0.01)
        solver.parameters.linearization_level = 2
        return solver

    def _model(self, out: int, left_out: int | None, limits: frozenset[Limit]) -> _Model:
        from ortools.sat.python import cp_model  # noqa: PLC0415

        built = _Model(cp_model.CpModel())
        model, batches = built.model, self.day.batches
        for number in self.batches:
            built.left[number] = model.new_int_var(0, batches[number].jars, f"left of {number}")
        for place, kind in enumerate(self.kinds):
            for number in kind.batches:
                built.jars[number, place] = model.new_int_var(0, batches[number].jars, f"{number} in {place}")
        for number in self.batches:
            placed = [
                built.jars[number, place] for place, kind in enumerate(self.kinds) if number in kind.batches
            ]
            model.add(sum(placed) + built.left[number] == batches[number].jars)
        if left_out is not None:
            model.add(sum(built.left.values()) <= left_out)
        for place, kind in enumerate(self.kinds):
            self._count_loads(built, place, kind)
        for step in self.steps:
            self._limit(built, step, out, limits)
        return built

    def _count_loads(self, built: _Model, place: int, kind: Kind) -> None:
        """Loads that hold a batch not ready before a step: at least what those batches' jars fill."""
        most = sum(self.day.batches[number].jars for number in kind.batches)
        earlier: cp_model.IntVar | None = None
        for step in self.steps:
            loads = built.model.new_int_var(0, most, f"loads of {place} from {step}")
            built.loads[place, step] = loads
            late = [built.jars[number, place] for number in kind.batches if self.ready[number] >= step]
            built.model.add(sum(late) <= kind.jars * loads)
            if earlier is not None:
                built.model.add(loads <= earlier)
            earlier = loads

    def _limit(self, built: _Model, step: int, out: int, limits: frozenset[Limit]) -> None:
        """All that must happen between a step and the end fits into what there is then."""
        model, day = built.model, self.day
        kinds = [(kind, built.loads[place, step]) for place, kind in enumerate(self.kinds)]
        late = [number for number in self.batches if self.ready[number] >= step]
        arrival = min(day.batches[number].arrival for number in late)
        since, from_arrival = _stretch(step, out), _stretch(arrival, out)
        prep_parts = sum(
            math.floor(day.batches[number].prep_person_minutes_per_jar * _PARTS)
            * (day.batches[number].jars - built.left[number])
            for number in late
        )
        watched = sum(kind.watch_minutes * loads for kind, loads in kinds)
        filled = sum(kind.fill_person_minutes * loads for kind, loads in kinds)
        if Limit.CANNERS in limits:
            for number in range(len(day.canners)):
                self._limit_canner(built, number, step, since)
        if Limit.WATCHES in limits:
            begin = step + min(kind.heat_on for kind, _ in kinds)
            model.add(watched <= day.policy.canners_per_person * self._trained(_stretch(begin, out)))
        if Limit.PREP in limits:
            end = out - min(kind.minutes for kind, _ in kinds)
            model.add(prep_parts <= _PARTS * self._hands(StationKind.PREP, _stretch(arrival, end)))
        if Limit.FILL in limits:
            model.add(filled <= self._hands(StationKind.FILL, since))
        if Limit.KETTLES in limits and day.kettles:
            room = len(day.kettles) * self._open(from_arrival)
            model.add(sum(kind.kettle_minutes * loads for kind, loads in kinds) <= room)
        if Limit.PEOPLE in limits:
            busy = sum(self._person_parts(kind) * loads for kind, loads in kinds)
            model.add(prep_parts + busy <= _PARTS * self._people(from_arrival))

    def _person_parts(self, kind: Kind) -> int:
        """Person-minutes, in parts, that one load takes; somebody may watch as many canners as the kitchen allows."""
        policy = self.day.policy
        watch = _PARTS * kind.watch_minutes // policy.canners_per_person
        return _PARTS * (kind.fill_person_minutes + policy.unloading_minutes) + watch

    def _limit_canner(self, built: _Model, number: int, step: int, span: Stretch) -> None:
        mine = [(place, kind) for place, kind in enumerate(self.kinds) if kind.canner == number]
        open_minutes = sum(part.minutes for part in intersect(span, self.day.canners[number].service))
        # The last load's cleaning may come after the end.
        spare = max((kind.cleaning for _, kind in mine), default=0)
        taken = sum((kind.minutes + kind.cleaning) * built.loads[place, step] for place, kind in mine)
        built.model.add(taken <= open_minutes + spare)
        for place, kind in mine:
            if kind.minutes > open_minutes:
                built.model.add(built.loads[place, step] == 0)

    def _open(self, span: Stretch) -> int:
        return sum(part.minutes for part in intersect(span, self.day.opening))

    def _trained(self, span: Stretch) -> int:
        return sum(
            part.minutes
            for person in self.day.people
            if person.trained and not person.under_16
            for part in intersect(span, person.hours)
        )

    def _people(self, span: Stretch) -> int:
        return sum(part.minutes for person in self.day.people for part in intersect(span, person.hours))

    @cached_property
    def _listed(self) -> dict[StationKind, list[tuple[Span, int]]]:
        return {
            station.kind: [(hands.span, hands.count) for hands in station.hands]
            for station in self.day.stations
        }

    def _hands(self, kind: StationKind, span: Stretch) -> int:
        """Person-minutes at a station; where it is not listed, all there are."""
        if kind not in self._listed:
            return self._people(span)
        return sum(
            count * sum(part.minutes for part in intersect(span, (hours,)))
            for hours, count in self._listed[kind]
        )
