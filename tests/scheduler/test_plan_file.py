"""A plan file comes back exactly, and what is no plan is refused with the place."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scheduler.day_file import read_day
from scheduler.errors import BadPlanFile
from scheduler.generator import random_day
from scheduler.plan import Plan
from scheduler.plan_file import plan_json, read_plan
from scheduler.planner import simple_rules
from scheduler.problem import Day

TINY = Path(__file__).parents[2] / "fixtures" / "days" / "tiny.toml"


@pytest.fixture(scope="module")
def tiny() -> tuple[Day, Plan]:
    day = read_day(TINY.read_text(encoding="utf-8"))
    return day, simple_rules(day)["first come"]


def test_a_plan_comes_back_exactly(tiny: tuple[Day, Plan]) -> None:
    day, plan = tiny
    assert plan.loads
    assert read_plan(plan_json(plan, day)) == plan


def test_a_plan_with_everything_in_it_comes_back_exactly() -> None:
    day = random_day(1, "M")
    for plan in simple_rules(day).values():
        assert plan.loads
        assert read_plan(plan_json(plan, day)) == plan


def test_the_file_says_what_its_minutes_count_from(tiny: tuple[Day, Plan]) -> None:
    day, plan = tiny
    written = json.loads(plan_json(plan, day))
    plan_part = written.pop("plan")
    assert written == {
        "format": "kitchen-plan-1",
        "kitchen": "Lower Mill Kitchen",
        "date": "2026-09-05",
        "time_zone": "America/Denver",
        "origin": "2026-09-05T06:00:00Z",
    }
    assert plan_part["caution"] == plan.caution


def set_at(*path: str | int, to: object) -> Callable[[Any], None]:
    def change(file: Any) -> None:
        for part in path[:-1]:
            file = file[part]
        file[path[-1]] = to

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (set_at("plan", "loads", 0, "phases", 1, "kid", to=3), "plan.loads[0].phases[1].kid cannot be read"),
        (set_at("plan", "tasks", 0, "start", to="9"), "plan.tasks[0].start cannot be read: input should be a valid"),
        (set_at("plan", "tasks", 0, "kind", to="sing"), "plan.tasks[0].kind cannot be read"),
        (set_at("plan", "loads", 0, "phases", to=[]), "plan.loads[0] has no phases"),
        (set_at("plan", "loads", 0, "phases", 0, "end", to=0), "plan.loads[0].phases[0] ends at 0, not after"),
        (set_at("plan", "tasks", 0, "end", to=10**12), "plan.tasks[0] lies too far from the day"),
        (set_at("plan", "assignments", 0, "start", to=-(10**9)), "plan.assignments[0] lies too far from the day"),
        (set_at("plan", "loads", 0, "seal_check", to=10**9), "plan.loads[0].first_call lies too far from the day"),
        (set_at("plan", "loads", 0, "stand", "end", to=1), "plan.loads[0].stand ends at 1"),
        (set_at("plan", "loads", 0, "stand", "area_sq_in", to=float("nan")), "plan.loads[0].stand.area_sq_in cannot"),
        (set_at("format", to="kitchen-plan-2"), "format cannot be read: input should be 'kitchen-plan-1'"),
        (set_at("extra", to=1), "extra cannot be read"),
    ],
)  # fmt: skip
def test_what_is_no_plan_is_refused_with_the_place(
    tiny: tuple[Day, Plan], change: Callable[[Any], None], said: str
) -> None:
    day, plan = tiny
    file = json.loads(plan_json(plan, day))
    change(file)
    with pytest.raises(BadPlanFile) as caught:
        read_plan(json.dumps(file))
    assert caught.value.message.startswith(said)
    assert "python -m scheduler plan" in caught.value.remedy


@pytest.mark.parametrize("text", ["", "[]", "{}", "plan", "[" * 100_000])
def test_other_files_are_refused(text: str) -> None:
    with pytest.raises(BadPlanFile):
        read_plan(text)
