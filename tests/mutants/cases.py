"""What the mutants are tried on: the days and plans that the project's own tests have judged."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

import scheduler.judge
from scheduler.plan import Plan
from scheduler.problem import Day

_TESTS = Path(__file__).resolve().parents[1] / "scheduler"


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """A day and a plan to judge. ``named`` says that a test written for it holds what the judge must find."""

    day: Day
    plan: Plan
    named: bool


def named_cases() -> list[Tried]:
    """Every day and plan that the judge's own tests have judged, those first that hypothesis did not draw."""
    recorder = _Recorder()
    files = [str(file) for file in sorted([*_TESTS.glob("test_rules_*.py"), *_TESTS.glob("test_judge*.py")])]
    said = io.StringIO()
    with recorder.listening(), redirect_stdout(said):
        ended = pytest.main(
            ["-q", "-p", "no:cacheprovider", "--hypothesis-seed=0", *files], plugins=[recorder]
        )
    if ended:
        raise SystemExit(f"The tests fail before anything is changed.\n{said.getvalue()}")
    return sorted(_different(recorder.cases), key=lambda one: not one.named)


class _Recorder:
    """Beside pytest: notes what is judged, and by which kind of test."""

    def __init__(self) -> None:
        self.cases: list[Tried] = []
        self._named = True

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """What hypothesis draws is asserted loosely, so it does not count as named."""
        self._named = not getattr(getattr(item, "obj", None), "is_hypothesis_test", False)

    @contextmanager
    def listening(self) -> Iterator[None]:
        """The tests import the judge as it is called; this must begin before they are imported."""
        judge = scheduler.judge.judge

        def noted(day: Day, plan: Plan) -> tuple[scheduler.judge.Violation, ...]:
            self.cases.append(Tried(day, plan, self._named))
            return judge(day, plan)

        scheduler.judge.judge = noted
        try:
            yield
        finally:
            scheduler.judge.judge = judge


def _different(cases: Iterable[Tried]) -> list[Tried]:
    """One of each, a named one rather than a drawn one."""
    found: dict[str, Tried] = {}
    for case in cases:
        key = repr((case.day, case.plan))
        if key not in found or case.named:
            found[key] = case
    return list(found.values())
