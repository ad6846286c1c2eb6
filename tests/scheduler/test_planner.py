"""The planner's front door: repeatable, stoppable, and plain about what it leaves out."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

from scheduler.canner_kind import CannerKind
from scheduler.generator import random_day
from scheduler.judge import judge
from scheduler.plan import Plan
from scheduler.planner import Progress, plan, simple_rules
from scheduler.problem import Day


def answer(day: Day, seed: int = 1, seconds: float = 0.3) -> Plan:
    return plan(day, seconds=seconds, seed=seed, clock=lambda: 0.0)


def reasons(found: Plan) -> set[str]:
    return {one.code for one in found.left_out}


PRINT_A_PLAN = """
from scheduler.generator import random_day
from scheduler.planner import plan
print(repr(plan(random_day(7, "S"), seconds=0.3, seed=5, clock=lambda: 0.0)))
"""


def test_the_same_day_and_seed_give_the_same_plan_in_another_process() -> None:
    runs = {
        subprocess.run(
            [sys.executable, "-c", PRINT_A_PLAN],
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONHASHSEED": str(seed)},
        ).stdout
        for seed in range(2)
    }
    assert len(runs) == 1


def test_another_order_of_rows_is_still_a_lawful_plan() -> None:
    day = random_day(3, "S")
    turned = replace(day, batches=day.batches[::-1], canners=day.canners[::-1], people=day.people[::-1])
    assert judge(turned, answer(turned)) == ()


def test_a_search_can_be_stopped_and_still_answers() -> None:
    day = random_day(2, "S")
    stopped = plan(day, seconds=60, seed=1, clock=lambda: 0.0, should_stop=lambda: True)
    assert stopped.provenance.stopped_because == "asked to stop"
    assert judge(day, stopped) == ()


def test_the_clock_is_a_limit() -> None:
    ticks = iter(range(1000))
    limited = plan(random_day(2, "S"), seconds=3, seed=1, clock=lambda: float(next(ticks)))
    assert limited.provenance.stopped_because == "time limit"


def test_progress_only_gets_better() -> None:
    heard: list[Progress] = []
    answer_with = plan(random_day(2, "S"), seconds=0.5, seed=1, clock=lambda: 0.0, on_progress=heard.append)
    scores = [tuple(level.value for level in progress.levels) for progress in heard]
    assert scores == sorted(scores, reverse=True)
    assert scores[-1] == tuple(level.value for level in answer_with.levels)


def test_every_simple_rule_makes_a_lawful_day() -> None:
    day = random_day(4, "S")
    for name, simple in simple_rules(day).items():
        assert judge(day, simple) == (), name


def test_without_anyone_trained_every_jar_is_left_out_and_says_why() -> None:
    day = random_day(1, "S")
    day = replace(day, people=tuple(replace(person, trained=False) for person in day.people))
    found = answer(day)
    assert found.loads == ()
    assert reasons(found) == {"nobody-trained"}
    assert judge(day, found) == ()


def test_a_dial_gauge_overdue_is_out_of_service_and_says_so() -> None:
    day = random_day(1, "M")
    overdue = tuple(
        replace(canner, gauge_checked_on=day.date.replace(year=day.date.year - 2))
        if canner.kind is CannerKind.DIAL
        else canner
        for canner in day.canners
    )
    day = replace(day, canners=overdue)
    names = {canner.name for canner in overdue if canner.kind is CannerKind.DIAL}
    found = answer(day, seconds=0.05)
    used = {load.canner_id for load in found.loads}
    assert names
    assert not used & {canner.id for canner in overdue if canner.kind is CannerKind.DIAL}
    assert all(any(warning.startswith(name) for warning in found.warnings) for name in names)


def test_a_batch_that_comes_too_late_is_told_how_much() -> None:
    day = random_day(1, "S")
    late = replace(day.batches[0], arrival=day.horizon - 15, pickup=day.horizon + 60)
    found = answer(replace(day, batches=(late, *day.batches[1:])))
    told = next(one for one in found.left_out if one.batch_id == late.id)
    assert told.code == "arrives-too-late"
    assert "minutes earlier" in told.remedy


def test_an_altitude_without_a_table_leaves_everything_out() -> None:
    day = replace(random_day(1, "S"), altitude_ft=9000)
    found = answer(day)
    assert found.loads == ()
    assert reasons(found) == {"no-process"}
    assert all("8,000" in one.reason or "8000" in one.reason for one in found.left_out)
