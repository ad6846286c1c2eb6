"""Rules "breaks", "shift", "station" and "company", and learning at a canner: planted, and what is allowed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Assignment, Plan
from scheduler.problem import Hands, Person, Policy, Station, StationKind
from tests.factories.days import OPENING, PEOPLE, change_assignment, make_day, make_plan, restated
from tests.factories.planted import Planted, table

ADA, BEN, CLEO, DINA = PEOPLE
NED = Person(id="ned", name="Ned Vale", hours=(OPENING,), learning=True)
WITH_NED = (*PEOPLE, NED)


def ned_stands_by(plan: Plan, *, start: int = 180, end: int = 232) -> Plan:
    """Ned is at the first load's watch, which runs from 180 to 232, beside Ada."""
    ned = Assignment(task_id="L1-watch", person_id="ned", start=start, end=end)
    return replace(plan, assignments=(*plan.assignments, ned))


@table(
    # Ben works from 8:00 to 10:47 with 20 minutes free before 9:15, and 77 before 10:42.
    Planted(
        name="no rest for 85 minutes",
        rule="breaks",
        message="Ben Ruiz works from 08:00 to 09:25 without 25 minutes of rest; the kitchen allows 84 minutes.",
        day={"policy": Policy(break_minutes=25, break_every_minutes=84)},
    ),
    Planted(
        name="no meal",
        rule="breaks",
        message="Ben Ruiz works from 08:00 to 10:47 without 80 minutes of rest; the kitchen allows 166 minutes.",
        day={"policy": Policy(meal_minutes=80, meal_after_minutes=166)},
    ),
    Planted(
        name="two watches are not one",
        rule="breaks",
        message="Ada Brook works from 09:00 to 10:30 without 15 minutes of rest; the kitchen allows 60 minutes.",
        day={"policy": Policy(break_every_minutes=60)},
    ),
    Planted(
        name="too long a shift",
        rule="shift",
        message="Ben Ruiz is there from 08:00 to 10:47 without 600 minutes of rest; a shift has at most 166.",
        day={"policy": Policy(longest_shift_minutes=166)},
    ),
    Planted(
        name="more than was offered",
        rule="shift",
        message="Ben Ruiz works 68 minutes in the day that begins at 08:00, and said 67 at most.",
        day={"people": (ADA, replace(BEN, most_minutes=67), CLEO, DINA)},
    ),
    Planted(
        name="where one cannot work",
        rule="station",
        message="Ben Ruiz cannot work at fill (task L1-fill).",
        day={"people": (ADA, replace(BEN, cannot=frozenset({StationKind.FILL})), CLEO, DINA)},
    ),
    Planted(
        name="no time to walk",
        rule="station",
        message="Ben Ruiz has 2 minutes to get from prep to fill at 08:45; it takes 3.",
        day={"policy": Policy(walking_minutes=3)},
        plan=lambda plan: plan,
    ),
    Planted(
        name="alone where they come together",
        rule="company",
        message="Ben Ruiz comes and goes with Dina Holt, who is not here for all of 10:42 to 10:47 (task L1-cooling).",
        day={
            "people": (
                ADA,
                replace(BEN, comes_with="dina"),
                CLEO,
                replace(DINA, hours=(Span(120, 286),)),
            )
        },
    ),
    Planted(
        name="a learner alone at the canner",
        rule="S9",
        message="Load L1: no trained person is at the canner at 09:00.",
        day={"people": WITH_NED},
        made_for={"people": WITH_NED},
        plan=lambda plan: change_assignment(plan, "L1-watch", "ada", person_id="ned"),
    ),
    Planted(
        name="a child who learns",
        rule="S9",
        message="Load L1: Ned Vale watches it from 09:00 and is not trained to run a canner.",
        day={"people": (*PEOPLE, replace(NED, under_16=True))},
        made_for={"people": WITH_NED},
        plan=ned_stands_by,
    ),
    Planted(
        name="a learner who has gone home",
        rule="S9",
        message="Load L1: Ned Vale watches it from 09:00 and is not trained to run a canner.",
        day={"people": (*PEOPLE, replace(NED, hours=(Span(120, 231),)))},
        made_for={"people": WITH_NED},
        plan=ned_stands_by,
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found


BEARABLE = (
    Policy(break_minutes=25, break_every_minutes=85),
    Policy(meal_minutes=80, meal_after_minutes=167),
    Policy(meal_minutes=77, meal_after_minutes=120),
    Policy(longest_shift_minutes=167),
    Policy(walking_minutes=2),
)


@pytest.mark.parametrize("policy", BEARABLE)
def test_what_is_just_bearable_is_allowed(policy: Policy) -> None:
    day = make_day(policy=policy)
    found = judge(day, restated(day, make_plan(make_day())))
    assert [one for one in found if one.message.startswith("Ben")] == []


def test_a_watch_longer_than_the_limit_is_not_left_for_a_rest() -> None:
    day = make_day(
        policy=Policy(break_every_minutes=60), people=(*PEOPLE, replace(ADA, id="eve", name="Eve Stone"))
    )
    plan = change_assignment(make_plan(day), "L2-watch", "ada", person_id="eve")
    longer = replace(day, policy=replace(day.policy, break_every_minutes=60))
    assert "breaks" not in {one.rule for one in judge(longer, restated(longer, plan))}


def test_as_much_as_was_offered_is_allowed() -> None:
    day = make_day(people=(ADA, replace(BEN, most_minutes=68), CLEO, DINA))
    assert judge(day, restated(day, make_plan(make_day()))) == ()


def test_a_learner_beside_a_trained_person_takes_no_place_at_the_canner() -> None:
    one_place = Station(kind=StationKind.CANNER, hands=(Hands(span=OPENING, count=1),))
    day = make_day(people=WITH_NED, stations=(one_place,))
    assert judge(day, restated(day, ned_stands_by(make_plan(day)))) == ()
