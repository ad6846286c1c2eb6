"""Whether a change does what it should: the changed day is planned, several times over.

Small trials tell quickly what is not worth a closer look. What passes them all is planned once more just as the lead
will plan it: with the same seed and effort a plan repeats, so what is then offered keeps its word.
"""

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
class Usual:
    """How the lead plans the changed day: the effort in nominal ``seconds`` and the ``seed``."""

    seconds: float
    seed: int


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

    def __init__(self, day: Day, planned: Plan, *, usual: Usual, must_stop: Callable[[], bool]) -> None:
        self.day = day
        self.now = standings(day, planned)
        self.plans = 0
        self._usual = usual
        self._must_stop = must_stop
        self._as_usual: dict[Changes, dict[str, Standing]] = {}
        self._made: dict[Changes, list[dict[str, Standing]]] = {}
        self._simple: dict[Changes, dict[str, Standing] | None] = {}

    def held(self, changes: Changes, batch_id: str) -> Held | None:
        """How the changes help the batch, or None when they do not.

        They do when all its jars have a place, in time if only that was missing, and no other batch loses a jar: in a
        plan by a simple rule that nothing is wrong with, or else in every trial and in the plan that the lead will
        make. They are firm when no other batch is left out or late either: else a plan with another seed might choose
        this one instead of another.
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
        found = self._planned_as_usual(changes, day)
        if (
            self._must_stop()
            or not self._is_placed(found, batch_id)
            or not self._spares_others(found, self.now)
        ):
            return None
        return _held([*seen, found[batch_id]], certain=False, firm=firm and self._is_firm(found, batch_id))

    def _helps(self, found: Mapping[str, Standing], batch_id: str, number: int) -> bool:
        # A trial has less time than the plan had: others may lose no more than they do for want of time.
        return self._is_placed(found, batch_id) and self._spares_others(
            found, self._trial((), self.day, number)
        )

    def _is_placed(self, found: Mapping[str, Standing], batch_id: str) -> bool:
        mine, before = found[batch_id], self.now[batch_id]
        return not mine.left and (bool(before.left) or not mine.late)

    def _spares_others(self, found: Mapping[str, Standing], without: Mapping[str, Standing]) -> bool:
        """True when nobody has more jars left out than in the plan at hand, or in this one ``without`` the changes."""
        return all(one.left <= max(self.now[name].left, without[name].left) for name, one in found.items())

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
            seconds = SECONDS_A_BATCH[len(made)] * len(day.batches)
            made.append(self._planned(day, Usual(seconds=seconds, seed=FIRST_SEED + len(made))))
        return made[number]

    def _planned_as_usual(self, changes: Changes, day: Day) -> dict[str, Standing]:
        """What the lead gets who makes the changes and plans again."""
        if changes not in self._as_usual:
            self._as_usual[changes] = self._planned(day, self._usual)
        return self._as_usual[changes]

    def _planned(self, day: Day, how: Usual) -> dict[str, Standing]:
        """A plan without a proof, which takes time and changes nothing about where the jars are."""
        self.plans += 1
        planned = plan(
            day,
            seconds=how.seconds,
            seed=how.seed,
            clock=_stopped_clock,
            should_stop=self._must_stop,
            prove=False,
        )
        return standings(day, planned)


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
