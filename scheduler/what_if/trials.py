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
from scheduler.what_if.standing import Standing, standings

SECONDS_A_BATCH = (0.02, 0.05, 0.1)
"""Effort of the trials, in nominal seconds for each batch of the day; all must do it."""

FIRST_SEED = 101
"""Each trial has a seed of its own: whoever plans the changed day does so with another again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A change that did it. ``certain``: every plan does, for none is worse than the simple rules. ``firm``: no other
    batch was left out or late either, so no better plan can choose otherwise.
    """

    certain: bool
    firm: bool
    out: int
    late: int


class Trials:
    """Plans changed days, each no more often than needed, and remembers what came of it."""

    def __init__(self, day: Day, planned: Plan, *, must_stop: Callable[[], bool]) -> None:
        self.day = day
        self.now = standings(day, planned)
        self.plans = 0
        self._must_stop = must_stop
        self._made: dict[Changes, list[dict[str, Standing]]] = {}
        self._simple: dict[Changes, dict[str, Standing] | None] = {}

    def held(self, changes: Changes, batch_id: str) -> Held | None:
        """How the changes help the batch, or None when they do not.

        They do when all its jars have a place, in time if only that was missing, and no other batch loses a jar: in a
        plan by a simple rule that nothing is wrong with, or else in every trial. They are firm when no other batch is
        left out or late either: else the next plan might choose this one instead of another.
        """
        day = changed(self.day, changes)
        if self._hopeless(day, batch_id):
            return None
        simple = self._flawless(changes, day)
        if simple is not None:
            return _held([simple[batch_id]], certain=True, firm=True)
        seen: list[Standing] = []
        firm = True
        while len(seen) < len(SECONDS_A_BATCH):
            found = self._trial(changes, day, len(seen))
            if self._must_stop() or not self._helps(found, batch_id, len(seen)):
                return None
            firm = firm and self._is_firm(found, batch_id)
            seen.append(found[batch_id])
        return _held(seen, certain=False, firm=firm)

    def _helps(self, found: Mapping[str, Standing], batch_id: str, number: int) -> bool:
        mine, before = found[batch_id], self.now[batch_id]
        if mine.left or (mine.late and not before.left):
            return False
        # A trial has less time than the plan had: others may lose no more than they do for want of time.
        same = self._trial((), self.day, number)
        return all(one.left <= max(self.now[name].left, same[name].left) for name, one in found.items())

    def _is_firm(self, found: Mapping[str, Standing], batch_id: str) -> bool:
        if self.now[batch_id].left:
            return not any(one.left for one in found.values())
        return all(one.is_well for one in found.values())

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
            self.plans += 1
            planned = plan(
                day,
                seconds=SECONDS_A_BATCH[len(made)] * len(day.batches),
                seed=FIRST_SEED + len(made),
                clock=_stopped_clock,
                should_stop=self._must_stop,
                prove=False,
            )
            made.append(standings(day, planned))
        return made[number]


def _stopped_clock() -> float:
    """Only effort ends a trial, and whoever stops the search: the same day then gets the same answers everywhere."""
    return 0.0


def _held(seen: list[Standing], *, certain: bool, firm: bool) -> Held:
    return Held(
        certain=certain,
        firm=firm,
        out=max(one.out for one in seen if one.out is not None),
        late=max(one.late for one in seen),
    )
