"""Odd made-up days: the same for a seed, such as a file can say, with everything in them, and judged."""

from __future__ import annotations

import io
from dataclasses import replace

from scheduler.__main__ import main
from scheduler.came_to_bear import FEATURES
from scheduler.commands.bench_judged import judge_all, planned_by_effort
from scheduler.day_file import read_day
from scheduler.day_writing import day_toml
from scheduler.digest import day_digest
from scheduler.every_feature import every_feature_day
from scheduler.plan import Plan
from scheduler.problem import Day

DAYS = 150


def test_a_seed_brings_its_day_back_and_another_seed_another() -> None:
    assert every_feature_day(4) == every_feature_day(4)
    assert len({day_digest(every_feature_day(seed)) for seed in range(30)}) == 30


def test_a_day_file_can_say_all_of_it() -> None:
    for seed in range(1, 61):
        day = every_feature_day(seed)
        assert day_digest(read_day(day_toml(day))) == day_digest(day), seed


def test_everything_there_is_comes_to_bear_and_no_rule_is_broken() -> None:
    out, err = io.StringIO(), io.StringIO()
    assert judge_all(range(1, DAYS + 1), 0.05, out, err, rests=True)
    assert err.getvalue() == ""
    first, *told, rests, last = out.getvalue().splitlines()
    assert first.startswith("100 days, 0 violations")
    assert last.startswith(f"{DAYS} days: ")
    assert last.endswith("; 0 violations in 0 plans")
    counted = {
        name: int(line.removesuffix(" days").split()[-1]) for name, line in zip(FEATURES, told, strict=True)
    }
    assert int(rests.split()[0]) > DAYS // 2
    assert all(0 < count < DAYS for count in counted.values()), counted


def test_a_plan_that_breaks_a_rule_is_counted_and_its_day_named() -> None:
    def careless(day: Day, seconds: float, seed: int) -> Plan:
        made = planned_by_effort(day, seconds, seed)
        return replace(made, assignments=made.assignments[1:]) if seed == 7 else made

    out, err = io.StringIO(), io.StringIO()
    assert not judge_all(range(6, 9), 0.02, out, err, planner=careless)
    assert err.getvalue().startswith("seed 7:\n")
    assert "seed 6" not in err.getvalue()
    assert out.getvalue().rstrip().endswith(" in 1 plans")


def test_the_command_judges_the_days_asked_for() -> None:
    out, err = io.StringIO(), io.StringIO()
    assert main(["bench", "judged", "--seeds", "2", "--first", "7", "--seconds", "0.02"], out, err) == 0
    assert err.getvalue() == ""
    assert "\n2 days: " in out.getvalue()
    assert main(["bench", "judged", "--seeds", "none"], out, err) == 2
