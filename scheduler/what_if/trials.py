"""Whether a change does what it should: the changed day is planned, several times over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from scheduler.plan import Plan
from scheduler.planner import plan, simple_rules
from scheduler.problem import Day
from scheduler.search.bounds import impossible
from scheduler.search.options import options_of
from scheduler.what_if.change import changed
from scheduler.what_if.ladder import Changes

TRIALS: tuple[tuple[float, int], ...] = ((0.5, 101), (0.5, 102), (1.0, 103))
"""Effort in seconds, and seed, of the plans that must all do it: whoever plans the changed day does so with another
effort and seed again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a plan does with a batch: jars left out, when the last jar is out (None without any), minutes late."""

    left: int
    out: int | None
    late: int

    @property
    def is_well(self) -> bool:
        """True when every jar is out in time."""
        return not self.left and not self.late


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A change that did it. ``certain``: every plan does, for none is worse than the simple rules."""

    certain: bool
    out: int
    late: int


def standings(day: Day, planned: Plan) -> dict[str, Standing]:
    """What a plan does with each batch of the day."""
    left = {one.batch_id: one.jars for one in planned.left_out}
    out: dict[str, int] = {}
    for load in planned.loads:
        for portion in load.portions:
            out[portion.batch_id] = max(load.jars_out, out.get(portion.batch_id, load.jars_out))
    return {
        batch.id: Standing(
            left=left.get(batch.id, 0),
            out=out.get(batch.id),
            late=max(0, out.get(batch.id, batch.pickup) - batch.pickup),
        )
        for batch in day.batches
    }


class Trials:
    """Plans changed days, each no more often than needed, and remembers what came of it."""

    def __init__(self, day: Day, planned: Plan, *, clock: Callable[[], float]) -> None:
        self.day = day
        self.now = standings(day, planned)
        self.plans = 0
        self._clock = clock
        self._made: dict[Changes, list[dict[str, Standing]]] = {}
        self._simple: dict[Changes, dict[str, Standing] | None] = {}

    def held(self, changes: Changes, batch_id: str) -> Held | None:
        """How the changes help the batch, or None when they do not.

        They do when all its jars have a place, in time if only that was missing, and no other batch loses a jar: in a
        plan by a simple rule that nothing is wrong with, or else in every trial.
        """
        day = changed(self.day, changes)
        if self._hopeless(day, batch_id):
            return None
        simple = self._flawless(changes, day)
        if simple is not None:
            return _held([simple[batch_id]], certain=True)
        seen: list[Standing] = []
        for number in range(len(TRIALS)):
            found = self._trial(changes, day, number)
            if not self._helps(found, batch_id, number):
                return None
            seen.append(found[batch_id])
        return _held(seen, certain=False)

    def _helps(self, found: Mapping[str, Standing], batch_id: str, number: int) -> bool:
        mine, before = found[batch_id], self.now[batch_id]
        if mine.left or (mine.late and not before.left):
            return False
        same = self._trial((), self.day, number)
        return all(one.left <= max(self.now[name].left, same[name].left) for name, one in found.items())

    def _hopeless(self, day: Day, batch_id: str) -> bool:
        """True when it is proven that the changed day cannot place a jar of the batch."""
        return any(day.batches[number].id == batch_id for number in impossible(day, options_of(day)))

    def _flawless(self, changes: Changes, day: Day) -> dict[str, Standing] | None:
        """The day by a simple rule that leaves out nothing and is never late: no plan is worse than that."""
        if changes not in self._simple:
            self.plans += 1
            rules = (standings(day, planned) for planned in simple_rules(day).values())
            self._simple[changes] = next(
                (found for found in rules if all(one.is_well for one in found.values())), None
            )
        return self._simple[changes]

    def _trial(self, changes: Changes, day: Day, number: int) -> dict[str, Standing]:
        made = self._made.setdefault(changes, [])
        while len(made) <= number:
            seconds, seed = TRIALS[len(made)]
            self.plans += 1
            made.append(standings(day, plan(day, seconds=seconds, seed=seed, clock=self._clock)))
        return made[number]


def _held(seen: list[Standing], *, certain: bool) -> Held:
    return Held(
        certain=certain,
        out=max(one.out for one in seen if one.out is not None),
        late=max(one.late for one in seen),
    )
