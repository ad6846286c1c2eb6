"""The judge: clean for a good plan, exact about a bad one, and never at a loss."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import fields, replace
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.cycle import PhaseKind
from scheduler.digest import day_digest
from scheduler.judge import RULES, Violation, judge
from scheduler.pace import Pace
from scheduler.plan import Assignment, LeftOut, Load, Phase, Plan, Portion, Stand, Task, TaskKind
from scheduler.problem import Day, Policy
from scheduler.rules.case import Case
from scheduler.score import LEVELS, levels_of
from tests.factories.days import BEANS, leave_out, make_day, make_plan, with_levels

DAY = make_day()
PLAN = make_plan(DAY)


def test_a_good_plan_is_clean() -> None:
    assert judge(DAY, PLAN) == ()


def test_a_plan_without_loads_is_clean_when_it_says_so() -> None:
    empty = replace(
        PLAN,
        loads=(),
        tasks=(),
        assignments=(),
        left_out=tuple(leave_out(batch, batch.jars) for batch in DAY.batches),
    )
    assert judge(DAY, with_levels(DAY, empty)) == ()


def test_a_plan_for_another_day_is_refused() -> None:
    assert judge(replace(DAY, kitchen="Other kitchen"), PLAN) == (
        Violation(rule="digest", message="The plan was made for another day, or the day has changed since."),
    )


@pytest.mark.parametrize("index", range(len(LEVELS)))
def test_a_level_stated_too_well_is_found(index: int) -> None:
    name, value = PLAN.levels[index].name, PLAN.levels[index].value
    stated = tuple(
        replace(level, value=level.value + 1) if number == index else level
        for number, level in enumerate(PLAN.levels)
    )
    assert judge(DAY, replace(PLAN, levels=stated)) == (
        Violation(rule="levels", message=f"The plan states {value + 1} for {name}; it reaches {value}."),
    )


def test_a_bound_above_its_value_is_found() -> None:
    stated = (replace(PLAN.levels[0], bound=1), *PLAN.levels[1:])
    assert judge(DAY, replace(PLAN, levels=stated)) == (
        Violation(rule="levels", message="The bound 1 for jars left out lies above the value 0."),
    )


def test_levels_missing_or_out_of_order_are_found() -> None:
    for levels in ((), PLAN.levels[::-1], PLAN.levels[:-1]):
        (violation,) = judge(DAY, replace(PLAN, levels=levels))
        assert violation.rule == "levels"
        assert violation.message.startswith("The levels must be jars left out, lateness, last jar out")


def test_levels_are_counted_from_what_the_plan_does() -> None:
    # Beans are out at 287, 7 minutes after a pick-up at 280; the canners are taken [165, 287) and [195, 280).
    day = make_day(batches=(replace(BEANS, pickup=280), DAY.batches[1]))
    assert levels_of(day, PLAN.loads, PLAN.tasks, (leave_out(BEANS, 3),)) == (3, 7, 287, 122 + 85, 2, 0)


def test_a_changeover_is_counted_between_loads_of_one_canner_that_differ() -> None:
    first, second = PLAN.loads
    loads = (first, replace(second, canner_id=first.canner_id))
    assert levels_of(DAY, loads, PLAN.tasks, ())[5] == 1
    same = replace(second, canner_id="grey", method="pressure_dial", pressure_psi=12.0, process_minutes=25)
    assert levels_of(DAY, (first, same), PLAN.tasks, ())[5] == 0


def test_the_digest_is_the_same_for_equal_days() -> None:
    same = replace(
        DAY, altitude_ft=2500.0, origin=datetime(2026, 9, 12, 14, tzinfo=timezone(timedelta(hours=2)))
    )
    assert day_digest(same) == day_digest(DAY)
    here = replace(DAY, origin=DAY.origin.astimezone(ZoneInfo("America/Denver")))
    assert day_digest(here) == day_digest(DAY)


def test_the_digest_does_not_hang_on_how_a_process_hashes_strings() -> None:
    source = (
        "from dataclasses import replace\n"
        "from scheduler.digest import day_digest\n"
        "from scheduler.problem import Policy\n"
        "from tests.factories.days import make_day\n"
        "print(day_digest(make_day(policy=Policy(confirmed_processes=frozenset('abcdefgh')))))\n"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", source],
            check=True,
            capture_output=True,
            text=True,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": ":".join(filter(None, sys.path))},
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(digests) == 1


@pytest.mark.parametrize(
    "changes",
    [
        {"altitude_ft": 2501},
        {"policy": Policy(confirmed_processes=frozenset({"one"}))},
        {"batches": DAY.batches[::-1]},
        {"canners": (replace(DAY.canners[0], own_counts={BEANS.jar: 5}), DAY.canners[1])},
        {"origin": DAY.origin + timedelta(minutes=1)},
        {"canners": (replace(DAY.canners[0], pace=Pace(cool_down=1.1)), DAY.canners[1])},
        {"policy": Policy(fill_pace=0.9)},
    ],
)
def test_the_digest_changes_with_the_day(changes: dict[str, object]) -> None:
    assert day_digest(make_day(**changes)) != day_digest(DAY)


def test_times_are_told_as_the_wall_clock_shows_them() -> None:
    case = Case.of(DAY, PLAN)
    assert case.clock(0) == "06:00"
    assert case.clock(24 * 60) == "06:00 on 2026-09-13"
    assert case.clock(10**15) == "minute 1000000000000000"


def test_the_wall_clock_follows_a_change_of_summer_time() -> None:
    # 1 November 2026: 2:00 becomes 1:00 in Denver. Six hours after midnight it is 5 o'clock.
    midnight = datetime(2026, 11, 1, tzinfo=ZoneInfo("America/Denver"))
    day = make_day(date=midnight.date(), origin=midnight)
    assert Case.of(day, PLAN).clock(360) == "05:00"


def test_every_rule_is_judged_once() -> None:
    assert len(set(RULES)) == len(RULES) == 32


WHOLE = st.one_of(st.integers(-50, 800), st.sampled_from([0, -(10**12), 10**12]))
REAL = st.one_of(st.none(), st.floats(), st.sampled_from([0.5, 1.0, 10.0]))
WORD = st.sampled_from(
    ["", "L1", "L2", "grey", "blue", "beans", "tomatoes", "oak", "pot", "ada", "dina", "no such"]
)

_STRATEGIES: dict[str, st.SearchStrategy[object]] = {
    "int": WHOLE,
    "str": WORD,
    "bool": st.booleans(),
    "float": st.floats(),
    "float | None": REAL,
    "str | None": st.one_of(st.none(), WORD),
    "tuple[int, ...]": st.lists(WHOLE, max_size=3).map(tuple),
    "tuple[str, ...]": st.lists(WORD, max_size=3).map(tuple),
    "PhaseKind": st.sampled_from(PhaseKind),
    "TaskKind": st.sampled_from(TaskKind),
    "Span": st.nothing(),
}


def of(kind: type) -> st.SearchStrategy[object]:
    """Any value of one of the plan's classes, sensible or not."""
    return st.builds(kind, **{one.name: _STRATEGIES[str(one.type)] for one in fields(kind)})


for _kind in (Phase, Portion, Stand, Task, Assignment, LeftOut):
    _STRATEGIES[f"tuple[{_kind.__name__}, ...]"] = st.lists(of(_kind), max_size=4).map(tuple)
_STRATEGIES["Stand | None"] = st.one_of(st.none(), of(Stand))
LOAD = of(Load)


def _changed(values: tuple[object, ...], data: st.DataObject) -> tuple[object, ...]:
    """One of the values with one field changed, or dropped, doubled."""
    index = data.draw(st.integers(0, len(values) - 1))
    how = data.draw(st.sampled_from(["change", "change", "change", "drop", "double"]))
    if how == "drop":
        return values[:index] + values[index + 1 :]
    if how == "double":
        return (*values, values[index])
    one = values[index]
    field = data.draw(st.sampled_from(fields(one)))  # type: ignore[arg-type]  # They are dataclasses.
    value = data.draw(_STRATEGIES[str(field.type)])
    return (*values[:index], replace(one, **{field.name: value}), *values[index + 1 :])  # type: ignore[type-var]


@given(data=st.data())
def test_no_mutation_makes_the_judge_fail(data: st.DataObject) -> None:
    plan = PLAN
    for _ in range(data.draw(st.integers(1, 3))):
        part = data.draw(st.sampled_from(["loads", "tasks", "assignments"]))
        values: tuple[object, ...] = getattr(plan, part)
        if values:
            plan = replace(plan, **{part: _changed(values, data)})  # type: ignore[arg-type]
    _well_formed(judge(DAY, plan))


@given(
    loads=st.lists(LOAD, max_size=3),
    tasks=st.lists(of(Task), max_size=5),
    assignments=st.lists(of(Assignment), max_size=5),
    left_out=st.lists(of(LeftOut), max_size=3),
)
def test_no_nonsense_makes_the_judge_fail(
    loads: list[Load], tasks: list[Task], assignments: list[Assignment], left_out: list[LeftOut]
) -> None:
    plan = replace(
        PLAN,
        loads=tuple(loads),
        tasks=tuple(tasks),
        assignments=tuple(assignments),
        left_out=tuple(left_out),
    )
    violations = judge(DAY, plan)
    _well_formed(violations)
    # Whatever it is, it is not the plan of this day: no jar of it can be placed with a process that is not printed.
    assert violations


def _well_formed(violations: tuple[Violation, ...]) -> None:
    assert len(set(violations)) == len(violations)
    assert all(violation.rule and violation.message.endswith(".") for violation in violations)


def _without_tasks(day: Day, plan: Plan, kind: TaskKind) -> Plan:
    return replace(plan, tasks=tuple(task for task in plan.tasks if task.kind is not kind))


@pytest.mark.parametrize("kind", TaskKind)
def test_no_work_may_be_left_out_of_a_plan(kind: TaskKind) -> None:
    if any(task.kind is kind for task in PLAN.tasks):
        assert judge(DAY, _without_tasks(DAY, PLAN, kind))


@given(minutes=st.integers(1, 240), index=st.integers(0, 1))
def test_a_process_is_never_shortened_unseen(minutes: int, index: int) -> None:
    """Whatever minute the heat goes off too early, S4 says so and the jars go on hold."""
    load = PLAN.loads[index]
    phases = tuple(
        replace(phase, end=phase.end - minutes)
        if phase.kind is PhaseKind.PROCESS
        else replace(phase, start=phase.start - minutes, end=phase.end - minutes)
        if phase.start >= _end_of_process(load)
        else phase
        for phase in load.phases
    )
    loads = tuple(replace(one, phases=phases) if one is load else one for one in PLAN.loads)
    rules = {one.rule for one in judge(DAY, replace(PLAN, loads=loads)) if one.load_id == load.id}
    assert {"S4", "S16"} <= rules


def _end_of_process(load: Load) -> int:
    return next(phase.end for phase in load.phases if phase.kind is PhaseKind.PROCESS)
