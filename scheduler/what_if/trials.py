"""Whether a change does what it should: the changed day is planned, several times over."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from scheduler.plan import Plan
from scheduler.planner import plan, simple_rules
from scheduler.problem import Day
from scheduler.search.bounds import impossible
from scheduler.search.options import options_of
from scheduler.what_if.change import changed
from scheduler.what_if.ladder import Changes

TRIALS: tuple[tuple[float, int], ...] = ((0.0, 101), (0.3, 102), (0.3, 103), (1.0, 104))
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
        self._certain: dict[Changes, bool] = {}

    def held(self, changes: Changes, batch_id: str) -> Held | None:
        """How the changes help the batch: in every trial it has all its jars, in time if only that was missing, and no
        other batch loses a jar. None when they do not.
        """
        day = changed(self.day, changes)
        if self._hopeless(day, batch_id):
            return None
        seen: list[Standing] = []
        for number, found in enumerate(self._plans(changes, day)):
            if not self._helps(found, batch_id):
                return None
            seen.append(found[batch_id])
            if number == 0 and self._is_certain(changes, day, found):
                break
        return Held(
            certain=len(seen) == 1,
            out=max(one.out for one in seen if one.out is not None),
            late=max(one.late for one in seen),
        )

    def _helps(self, found: Mapping[str, Standing], batch_id: str) -> bool:
        mine, before = found[batch_id], self.now[batch_id]
        if mine.left or (mine.late and not before.left):
            return False
        return all(found[other].left <= self.now[other].left for other in found)

    def _hopeless(self, day: Day, batch_id: str) -> bool:
        """True when it is proven that the changed day cannot place a jar of the batch."""
        return any(day.batches[number].id == batch_id for number in impossible(day, options_of(day)))

    def _is_certain(self, changes: Changes, day: Day, found: Mapping[str, Standing]) -> bool:
        """True when a simple rule leaves out nothing and is never late: no plan is worse than that."""
        if not all(one.is_well for one in found.values()):
            return False
        if changes not in self._certain:
            rules = simple_rules(day).values()
            self._certain[changes] = any(
                all(one.is_well for one in standings(day, planned).values()) for planned in rules
            )
        return self._certain[changes]

    def _plans(self, changes: Changes, day: Day) -> Iterator[dict[str, Standing]]:
        made = self._made.setdefault(changes, [])
        for number, (seconds, seed) in enumerate(TRIALS):
            if number == len(made):
                self.plans += 1
                planned = plan(day, seconds=seconds, seed=seed, clock=self._clock)
                made.append(standings(day, planned))
            yield made[number]
