"""A violation planted into a good plan, and what the judge must say of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import pytest

from scheduler.judge import judge
from scheduler.plan import Plan
from tests.factories.days import make_day, make_plan, restated


def as_it_was(plan: Plan) -> Plan:
    """Nothing is changed in the plan: the violation lies in what the day asks."""
    return plan


@dataclass(frozen=True, kw_only=True)
class Planted:
    """``plan`` changes a good plan, ``day`` the day it is judged for, ``made_for`` the day it was made for.

    ``rule`` and ``message`` must be among what the judge finds; ``also`` are the only other rules it may
    name.
    """

    name: str
    rule: str
    message: str
    plan: Callable[[Plan], Plan] = as_it_was
    day: Mapping[str, object] = field(default_factory=dict)
    made_for: Mapping[str, object] = field(default_factory=dict)
    also: frozenset[str] = frozenset()

    def found(self) -> list[tuple[str, str]]:
        """The rule and the message of everything the judge finds."""
        day = make_day(**{**self.made_for, **self.day})
        plan = restated(day, self.plan(make_plan(make_day(**self.made_for))))
        return [(violation.rule, violation.message) for violation in judge(day, plan)]


def table(*cases: Planted) -> pytest.MarkDecorator:
    """The cases as a parametrised test, each under its rule and its name."""
    return pytest.mark.parametrize(
        "planted", [pytest.param(case, id=f"{case.rule}: {case.name}") for case in cases]
    )
