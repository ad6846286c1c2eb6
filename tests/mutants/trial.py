"""Trying a module's mutants on cases, until one is judged otherwise."""

from __future__ import annotations

import signal
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import FrameType
from typing import Protocol

from scheduler.judge import Violation
from scheduler.plan import Plan
from scheduler.problem import Day
from tests.mutants.cases import Tried
from tests.mutants.mutants import Mutant
from tests.mutants.universe import Judge, judge_with, unchanged

# A judge takes milliseconds; a mutant that takes seconds turns in a circle.
_MOST_SECONDS = 4

Verdict = tuple[object, ...]
"""The rules found broken, each with its load and the people and things it names, or the kind of an error."""


class _Circling(BaseException):
    """A mutant does not come to an end."""


class _Named(Protocol):
    @property
    def name(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a mutant: ``killed_by`` is the case that it judges otherwise, None when there is none."""

    mutant: Mutant
    killed_by: Tried | None


@dataclass
class Trial:
    """The mutants of one module on all cases; what killed the last mutants of a function is tried first."""

    module: str
    cases: Sequence[Tried]
    _kills: dict[str, Counter[int]] = field(default_factory=dict)
    _expected: list[Verdict] = field(init=False)

    def __post_init__(self) -> None:
        judge = unchanged(self.module)
        self._expected = [verdict(judge, case.day, case.plan) for case in self.cases]

    def outcome(self, mutant: Mutant) -> Outcome:
        """Try one mutant: named cases before made-up ones."""
        try:
            judge = judge_with(self.module, mutant.code)
        except Exception:  # noqa: BLE001 - A mutant may raise anything. Unfit to be imported, it judges nothing.
            return Outcome(mutant, self.cases[0])
        numbers = self._in_order(mutant.function)
        killer = next((one for one in numbers if self._differs(judge, one)), None)
        if killer is None:
            return Outcome(mutant, None)
        self._kills.setdefault(mutant.function, Counter())[killer] += 1
        return Outcome(mutant, self.cases[killer])

    def _differs(self, judge: Judge, number: int) -> bool:
        case = self.cases[number]
        return verdict(judge, case.day, case.plan) != self._expected[number]

    def _in_order(self, function: str) -> Iterator[int]:
        """Named cases first, among them those that have killed in this function, the best first."""
        here = [number for number, _ in self._kills.get(function, Counter()).most_common()]
        known = set(here)
        for named in (True, False):
            yield from (number for number in here if self.cases[number].named is named)
            yield from (
                number
                for number, case in enumerate(self.cases)
                if case.named is named and number not in known
            )


def verdict(judge: Judge, day: Day, plan: Plan) -> Verdict:
    """What the judge finds, without its wording and without the order in which it tells it."""
    names = _names(day)
    try:
        with _limited():
            return tuple(sorted(_key(one, names) for one in judge(day, plan)))
    except (Exception, _Circling) as error:  # noqa: BLE001 - A mutant may raise anything, and that is its verdict.
        return (type(error).__name__,)


def _key(violation: Violation, names: Sequence[str]) -> tuple[str, str, tuple[str, ...]]:
    named = tuple(name for name in names if name in violation.message)
    return violation.rule, str(violation.load_id), named


def _names(day: Day) -> list[str]:
    things: tuple[Sequence[_Named], ...] = (day.people, day.canners, day.kettles, day.burners, day.tables)
    return [one.name for kind in things for one in kind] + [one.id for one in day.batches]


@contextmanager
def _limited() -> Iterator[None]:
    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise _Circling

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(_MOST_SECONDS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
