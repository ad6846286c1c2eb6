"""What a new plan changes, in words; and which load goes on as which."""

from __future__ import annotations

from dataclasses import replace

from scheduler.difference import Difference, difference, difference_text, pairs
from scheduler.interval import Span
from scheduler.plan import Plan
from scheduler.problem import Day
from tests.factories.days import (
    BLUE,
    GREY,
    PEOPLE,
    TOMATOES,
    change_assignment,
    change_load,
    change_task,
    leave_out,
    make_day,
    make_load,
    make_plan,
    without_task,
)
from tests.factories.floors import NOW, under_way

DAY = make_day()
PLAN = make_plan(DAY)
TOMATO_JARS = "8 jars of Tomato juice (Tomas Weir)"


def told(after: Plan, day: Day = DAY) -> Difference:
    """The difference against the plan of the small day."""
    return difference(DAY, PLAN, day, after)


def later_tomatoes(minutes: int) -> Plan:
    """The second load and all its work later by so many minutes."""
    plan = change_load(PLAN, "L2", phases=make_load(DAY, "L2", BLUE, TOMATOES, loading=205 + minutes).phases)
    for task in PLAN.tasks:
        if task.load_id == "L2":
            plan = change_task(plan, task.id, start=task.start + minutes, end=task.end + minutes)
    return plan


def without_tomatoes() -> Plan:
    """The first load alone."""
    plan = PLAN
    for task in PLAN.tasks:
        if task.load_id == "L2":
            plan = without_task(plan, task.id)
    return replace(plan, loads=PLAN.loads[:1])


def test_the_same_plan_changes_nothing() -> None:
    assert told(PLAN).is_empty
    assert difference_text(told(PLAN)) == "Nothing changes.\n"


def test_a_few_minutes_are_nothing_to_tell() -> None:
    assert told(later_tomatoes(5)).is_empty


def test_a_moved_load_is_told_with_its_old_and_its_new_time() -> None:
    found = told(later_tomatoes(30))
    assert found.loads == (f"Moved: {TOMATO_JARS} in Big Blue from 09:15 to 09:45.",)
    assert found.batches == ("Tomato juice (Tomas Weir): out at 11:10 instead of 10:40, 30 min later.",)
    assert found.canners == ("Big Blue: needed until 11:10 instead of 10:40.",)
    assert "Cleo Marsh: cooks Tomato juice (Tomas Weir) from 09:20 instead of at 08:50" in found.people[2]


def test_a_load_on_another_canner_is_told_with_both() -> None:
    load = replace(make_load(DAY, "L9", BLUE, TOMATOES, loading=205), canner_id="grey")
    found = told(replace(without_tomatoes(), loads=(PLAN.loads[0], load)))
    assert found.loads == (f"Moved: {TOMATO_JARS} from Big Blue at 09:15 to Old Grey at 09:25.",)
    assert "Big Blue: free all day." in found.canners


def test_a_later_load_is_told_as_late_when_it_misses_the_pick_up() -> None:
    day = make_day(batches=(DAY.batches[0], replace(TOMATOES, pickup=300)))
    found = told(later_tomatoes(30), day)
    assert found.batches == (
        "Tomato juice (Tomas Weir): out at 11:10 instead of 10:40, 30 min later, 10 min after the pick-up.",
    )


def test_jars_newly_left_out_are_told_with_the_reason() -> None:
    after = replace(without_tomatoes(), left_out=(leave_out(TOMATOES, 8),))
    found = told(after)
    assert found.left_out == (
        "8 more jars of Tomato juice (Tomas Weir): No canner is free before closing. Open longer.",
    )
    assert found.loads == (f"Dropped: {TOMATO_JARS} in Big Blue at 09:15.",)
    assert difference(DAY, after, DAY, PLAN).left_out == (
        "8 jars of Tomato juice (Tomas Weir) that were left out have a place now.",
    )


def test_a_changed_task_is_told_to_both_people() -> None:
    after = change_assignment(PLAN, "L2-cooling", "cleo", person_id="ben")
    assert told(after).people == (
        f"Ben Ruiz: now lifts out {TOMATO_JARS} from 10:35.",
        f"Cleo Marsh: no longer lifts out {TOMATO_JARS} from 10:35.",
    )


def test_somebody_gone_home_is_told_once() -> None:
    gone = (*PEOPLE[:2], replace(PEOPLE[2], hours=(Span(120, NOW),)), PEOPLE[3])
    day = under_way(people=gone)
    after = without_task(PLAN, "L2-cooling")
    assert told(after, day).people == ("Cleo Marsh has gone home: 2 tasks go to others or fall away.",)


def test_a_canner_out_of_use_is_no_canner_freed() -> None:
    failed = (replace(GREY, service=(Span(120, NOW),)), BLUE)
    day = under_way(canners=failed)
    assert told(PLAN, day).canners == ("Old Grey: out of use; nothing more is planned on it.",)


def test_a_load_keeps_its_name_and_a_regrouped_one_goes_on_where_most_of_its_jars_go() -> None:
    renamed = replace(PLAN, loads=(replace(PLAN.loads[0], id="N1"), replace(PLAN.loads[1], id="N2")))
    assert pairs(PLAN, PLAN) == {"L1": "L1", "L2": "L2"}
    assert pairs(PLAN, renamed) == {"N1": "L1", "N2": "L2"}
    swapped = replace(PLAN, loads=(replace(PLAN.loads[0], id="L2"), replace(PLAN.loads[1], id="L1")))
    assert pairs(PLAN, swapped) == {"L2": "L1", "L1": "L2"}
