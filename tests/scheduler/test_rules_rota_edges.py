"""Rules "breaks", "shift" and "station" at their edges: long watches, pieces of tasks, two watches at once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.judge import judge
from scheduler.problem import Policy
from tests.factories.changes import Change, at, moved, task, then
from tests.factories.days import (
    BEANS,
    PEOPLE,
    TOMATOES,
    change_task,
    make_day,
    make_plan,
    restated,
)

ADA = PEOPLE[0]
EVE = replace(ADA, id="eve", name="Eve Stone")
ALL = (*PEOPLE, EVE)

WHOLE = replace(TOMATOES, food_id="tomatoes_whole_in_juice")
"""Ninety minutes in boiling water."""
HOURLY = Policy(break_every_minutes=60)


def test_one_long_watch_is_borne_without_a_rest_whatever_else_is_watched_meanwhile() -> None:
    day = make_day(batches=(BEANS, WHOLE), policy=HOURLY, people=ALL)
    plan = moved("L1-watch", "ada", person_id="eve")(make_plan(day))
    assert judge(day, restated(day, plan)) == ()
    beside = at("L1-watch", "ada", 215, 225)(plan)
    assert "breaks" not in {one.rule for one in judge(day, restated(day, beside))}


def test_other_work_is_not_borne_as_a_watch_is() -> None:
    day = make_day(policy=HOURLY)
    plan = change_task(make_plan(make_day()), "L2-kettle", start=130)
    assert (
        "Cleo Marsh works from 08:10 to 09:15 without 15 minutes of rest; the kitchen allows 60 minutes."
        in [one.message for one in judge(day, restated(day, plan))]
    )


def test_a_shift_begins_when_the_person_comes_not_when_the_task_does() -> None:
    """Eve helps with the last five minutes of the first filling and goes on to the second."""
    day = make_day(people=(*PEOPLE, replace(EVE, most_minutes=14)), policy=Policy(longest_shift_minutes=120))
    plan = then(
        moved("L1-fill", "dina", end=170),
        at("L1-fill", "eve", 170, 175),
        moved("L2-fill", "dina", person_id="eve"),
    )(make_plan(make_day()))
    assert [one.message for one in judge(day, restated(day, plan)) if "Eve" in one.message] == [
        "Eve Stone works 15 minutes in the day that begins at 08:50, and said 14 at most."
    ]


def test_minutes_at_two_canners_count_once() -> None:
    """Ada watches from 180 to 232 and from 210 to 270."""
    for most, expected in ((90, []), (89, ["shift"])):
        day = make_day(people=(replace(ADA, most_minutes=most), *PEOPLE[1:]))
        assert [one.rule for one in judge(day, restated(day, make_plan(make_day())))] == expected


def test_work_without_end_is_counted_in_no_time() -> None:
    """Whatever a plan holds, the judge tells it and does not count minute after minute."""
    day = make_day(people=(replace(ADA, most_minutes=60), *PEOPLE[1:]))
    plan = at("L1-watch", "ada", -(10**12), 10**12)(make_plan(day))
    assert "shift" in {one.rule for one in judge(day, restated(day, plan))}


@pytest.mark.parametrize(
    ("change", "walking", "said"),
    [
        pytest.param(
            task("L2-prep", start=157, end=165),
            1,
            "Ben Ruiz has 0 minutes to get from prep to fill at 08:45; it takes 1.",
            id="at once",
        ),
        # Ada watches from 180 to 232 and from 210 to 220, and lifts jars from 234 on.
        pytest.param(
            then(moved("L2-watch", "ada", end=220), at("L2-cooling", "ada", 234, 240)),
            3,
            "Ada Brook has 2 minutes to get from canner to cooling at 09:54; it takes 3.",
            id="from the longer of two watches",
        ),
        pytest.param(
            then(
                moved("L2-watch", "ada", start=180, end=220),
                at("L2-cooling", "ada", 234, 240),
                lambda plan: replace(plan, assignments=tuple(reversed(plan.assignments))),
            ),
            3,
            "Ada Brook has 2 minutes to get from canner to cooling at 09:54; it takes 3.",
            id="from the longer of two watches that begin at once",
        ),
    ],
)
def test_there_is_time_to_walk_from_whatever_ended_last(change: Change, walking: int, said: str) -> None:
    day = make_day(policy=Policy(walking_minutes=walking))
    found = [one.message for one in judge(day, restated(day, change(make_plan(make_day()))))]
    assert said in found


def test_there_is_time_to_walk_only_after_the_longer_of_two_watches() -> None:
    """Ada's shorter watch ends two minutes before she lifts jars, which she does while the longer goes on."""
    day = make_day(policy=Policy(walking_minutes=3))
    plan = then(moved("L2-watch", "ada", end=220), at("L2-cooling", "ada", 222, 228))(make_plan(make_day()))
    found = [one for one in judge(day, restated(day, plan)) if one.message.startswith("Ada")]
    assert "station" not in {one.rule for one in found}
