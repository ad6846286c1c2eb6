"""The levels of plans whose loads, fillings and batches come in any order, and days that are told badly."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.cycle import PhaseKind
from scheduler.judge import judge
from scheduler.plan import Level, Phase, Plan, Task, TaskKind
from scheduler.problem import Day
from tests.factories.days import BEANS, change_load, make_day, make_plan, make_plan_on_one_canner, restated

DAY = make_day()
PLAN = make_plan(DAY)


def agreed(day: Day, plan: Plan, name: str, value: int) -> bool:
    """True when the judge agrees that this level has this value, and with no other."""

    def stated(told: int) -> bool:
        levels = tuple(
            replace(level, value=told, bound=min(told, level.bound)) if level.name == name else level
            for level in restated(day, plan).levels
        )
        return not _told(day, plan, levels)

    return stated(value) and not stated(value + 1) and not stated(value - 1)


def _told(day: Day, plan: Plan, levels: tuple[Level, ...]) -> bool:
    found = judge(day, replace(restated(day, plan), levels=levels))
    return any(one.rule == "levels" for one in found)


@pytest.mark.parametrize("starts", [(150, 165), (165, 150)])
def test_a_canner_is_taken_from_the_first_of_its_fillings(starts: tuple[int, int]) -> None:
    # The canners are taken from 150 to 287 and from 195 to 280.
    others = tuple(task for task in PLAN.tasks if task.id != "L1-fill")
    fills = tuple(
        Task(id=f"fill-{start}", kind=TaskKind.FILL, start=start, end=175, hands=2, load_id="L1")
        for start in starts
    )
    assert agreed(DAY, replace(PLAN, tasks=(*others, *fills)), "canner time", 137 + 85)


def test_a_canner_is_taken_from_the_loading_when_nothing_is_filled_or_later() -> None:
    # From 175 to 287, and from 195 to 280.
    none = tuple(task for task in PLAN.tasks if task.id != "L1-fill")
    assert agreed(DAY, replace(PLAN, tasks=none), "canner time", 112 + 85)
    late = Task(id="late", kind=TaskKind.FILL, start=178, end=179, hands=2, load_id="L1")
    assert agreed(DAY, replace(PLAN, tasks=(*none, late)), "canner time", 112 + 85)


@pytest.mark.parametrize("order", [1, -1])
def test_a_batch_is_as_late_as_its_last_jar(order: int) -> None:
    # Its loads are out at 287 and 409; it is picked up at 400.
    day = make_day(batches=(BEANS, replace(BEANS, id="late")))
    plan = make_plan_on_one_canner(day, filled_after=0)
    second = plan.load("L2")
    plan = change_load(plan, "L2", portions=(replace(second.portions[0], batch_id="beans"),))
    day = make_day(batches=(replace(BEANS, jars=14),))
    assert second.jars_out == 409
    assert agreed(day, replace(plan, loads=plan.loads[::order]), "lateness", 9)


@pytest.mark.parametrize(
    "other", [{"method": "pressure_weighted"}, {"pressure_psi": 13.0}, {"process_minutes": 26}]
)
def test_changeovers_follow_the_order_in_which_loads_begin(other: dict[str, object]) -> None:
    """The first to begin is the slowest to be loaded and the last to come out."""
    first = PLAN.load("L1")

    def timed(load_id: str, loading: tuple[int, int], unloading: tuple[int, int]) -> dict[str, object]:
        spans = ((PhaseKind.LOADING, *loading), (PhaseKind.UNLOADING, *unloading))
        return {"id": load_id, "phases": tuple(Phase(kind=k, start=a, end=b) for k, a, b in spans)}

    begun = replace(first, **timed("A", (100, 190), (400, 410)))  # type: ignore[arg-type]
    differs = replace(first, **timed("B", (110, 120), (200, 210)), **other)  # type: ignore[arg-type]
    same = replace(first, **timed("C", (120, 130), (300, 310)))  # type: ignore[arg-type]
    assert agreed(DAY, replace(PLAN, loads=(begun, same, differs)), "changeovers", 2)


@pytest.mark.parametrize("zone", ["Nowhere/Atall", "../outside", "America", "", "a\0b"])
def test_a_time_zone_that_does_not_exist_stops_no_judgement(zone: str) -> None:
    day = make_day(time_zone=zone)
    found = judge(day, restated(day, replace(PLAN, caution="")))
    assert [one.rule for one in found] == ["S17"]
