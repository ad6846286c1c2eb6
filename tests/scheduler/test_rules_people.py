"""Rules S9, "people" and "hands": a planted violation of each, and what is allowed."""

from __future__ import annotations

from dataclasses import replace

from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Assignment, Plan
from scheduler.problem import Hands, Person, Policy, Station, StationKind
from tests.factories.days import (
    OPENING,
    PEOPLE,
    change_assignment,
    change_task,
    make_day,
    make_plan,
    without_task,
)
from tests.factories.planted import Planted, table

ADA, BEN, CLEO, DINA = PEOPLE
EVE = Person(id="eve", name="Eve Stone", hours=(OPENING,), trained=True)
WITH_EVE = {"people": (*PEOPLE, EVE)}
TWO_WATCHERS = Policy(canners_per_person=1)


def station(kind: StationKind, count: int, span: Span = OPENING) -> dict[str, object]:
    """A day with one station listed."""
    return {"stations": (Station(kind=kind, hands=(Hands(span=span, count=count),)),)}


def eve_takes_over(plan: Plan, *, at: int, ada_until: int) -> Plan:
    """Eve takes the first load's watch, which runs from 180 to 232."""
    shorter = change_assignment(plan, "L1-watch", "ada", end=ada_until)
    eve = Assignment(task_id="L1-watch", person_id="eve", start=at, end=232)
    return replace(shorter, assignments=(*shorter.assignments, eve))


@table(
    Planted(
        name="no watch",
        rule="S9",
        message="Load L1: it needs one watch; the plan has 0.",
        plan=lambda plan: without_task(plan, "L1-watch"),
    ),
    Planted(
        name="a watch that begins after the heat",
        rule="S9",
        message="Load L1: the heat is on from 09:00 to 09:52; the watch runs from 09:01 to 09:52 with 1 hands.",
        plan=lambda plan: change_task(plan, "L1-watch", start=181),
    ),
    Planted(
        name="a watch that ends before the heat",
        rule="S9",
        message="Load L1: the heat is on from 09:00 to 09:52; the watch runs from 09:00 to 09:51 with 1 hands.",
        plan=lambda plan: change_task(plan, "L1-watch", end=231),
    ),
    Planted(
        name="nobody at the canner for a minute",
        rule="S9",
        message="Load L1: no trained person is at the canner at 09:51.",
        plan=lambda plan: change_assignment(plan, "L1-watch", "ada", end=231),
    ),
    Planted(
        name="nobody at the canner",
        rule="S9",
        message="Load L1: no trained person is at the canner at 09:00.",
        plan=lambda plan: replace(
            plan, assignments=tuple(one for one in plan.assignments if one.task_id != "L1-watch")
        ),
    ),
    Planted(
        name="an untrained person at the canner",
        rule="S9",
        message="Load L1: Ada Brook watches it from 09:00 and is not trained to run a canner.",
        day={"people": (replace(ADA, trained=False), *PEOPLE[1:])},
    ),
    Planted(
        name="a trained child at the canner",
        rule="S9",
        message="Load L1: Ada Brook watches it from 09:00 and is under 16.",
        day={"people": (replace(ADA, under_16=True), *PEOPLE[1:])},
    ),
    Planted(
        name="the watcher goes home",
        rule="S9",
        message="Load L1: Ada Brook is not here for all of 09:00 to 09:52.",
        day={"people": (replace(ADA, hours=(Span(120, 231),)), *PEOPLE[1:])},
    ),
    Planted(
        name="a stranger at the canner",
        rule="S9",
        message="Load L1: 'zoe', who is not among the people, would watch it.",
        plan=lambda plan: change_assignment(plan, "L1-watch", "ada", person_id="zoe"),
        also=frozenset({"people"}),
    ),
    Planted(
        name="too many canners for one person",
        rule="S9",
        message="Ada Brook watches 2 canners at 09:30; the kitchen allows 1.",
        day={"policy": TWO_WATCHERS},
    ),
    Planted(
        name="handed over without standing together",
        rule="S9",
        message="Load L1: the watch is handed over at 09:22 with 0 min together; it takes 10, where a phase ends.",
        day=WITH_EVE,
        plan=lambda plan: eve_takes_over(plan, at=202, ada_until=202),
    ),
    Planted(
        name="handed over in the middle of the process",
        rule="S9",
        message="Load L1: the watch is handed over at 09:30 with 12 min together; it takes 10, where a phase ends.",
        day=WITH_EVE,
        plan=lambda plan: eve_takes_over(plan, at=210, ada_until=222),
    ),
    Planted(
        name="a task that does not exist",
        rule="people",
        message="cleo is sent to task 'L9-cooling', which does not exist.",
        plan=lambda plan: change_assignment(plan, "L2-cooling", "cleo", task_id="L9-cooling"),
    ),
    Planted(
        name="a person who does not exist",
        rule="people",
        message="Task L2-cooling names 'zoe', who is not among the people.",
        plan=lambda plan: change_assignment(plan, "L2-cooling", "cleo", person_id="zoe"),
    ),
    Planted(
        name="there after the task has ended",
        rule="people",
        message="Cleo Marsh is at task L2-cooling from 10:35 to 10:41; it runs from 10:35 to 10:40.",
        plan=lambda plan: change_assignment(plan, "L2-cooling", "cleo", end=281),
    ),
    Planted(
        name="there for no time",
        rule="people",
        message="Cleo Marsh is at task L2-cooling from 10:35 to 10:35; it runs from 10:35 to 10:40.",
        plan=lambda plan: change_assignment(plan, "L2-cooling", "cleo", end=275),
    ),
    Planted(
        name="a child lifts hot jars",
        rule="people",
        message="Dina Holt is under 16 and may not do cooling (task L2-cooling).",
        plan=lambda plan: change_assignment(plan, "L2-cooling", "cleo", person_id="dina"),
    ),
    Planted(
        name="a child at the kettle",
        rule="people",
        message="Dina Holt is under 16 and may not do kettle (task L2-kettle).",
        plan=lambda plan: change_assignment(plan, "L2-kettle", "cleo", person_id="dina"),
    ),
    Planted(
        name="gone home",
        rule="people",
        message="Cleo Marsh is not here for all of 10:35 to 10:40 (task L2-cooling).",
        day={"people": (ADA, BEN, replace(CLEO, hours=(Span(120, 279),)), DINA)},
    ),
    Planted(
        name="in two places",
        rule="people",
        message="Ben Ruiz is at kettle (task L2-kettle) and at fill (task L2-fill) at 09:14.",
        plan=lambda plan: change_task(
            change_assignment(plan, "L2-kettle", "cleo", person_id="ben"), "L2-fill", start=194
        ),
        also=frozenset({"kettle"}),
    ),
    Planted(
        name="at a canner and at a table",
        rule="people",
        message="Ada Brook is at watch (task L1-watch) and at fill (task L2-fill) at 09:15.",
        plan=lambda plan: change_assignment(plan, "L2-fill", "ben", person_id="ada"),
    ),
    Planted(
        name="too few people",
        rule="people",
        message="Task L1-fill (fill for load L1) needs 2 people; too few are named at 08:52.",
        plan=lambda plan: change_assignment(plan, "L1-fill", "dina", end=172),
    ),
    Planted(
        name="one person counted twice",
        rule="people",
        message="Task L1-fill (fill for load L1) needs 2 people; too few are named at 08:45.",
        plan=lambda plan: change_assignment(plan, "L1-fill", "dina", person_id="ben"),
    ),
    Planted(
        name="no hands",
        rule="hands",
        message="Task L1-cooling has 0 hands.",
        plan=lambda plan: change_task(plan, "L1-cooling", hands=0),
        also=frozenset({"times"}),
    ),
    Planted(
        name="fewer hands than needed",
        rule="hands",
        message="Station fill has 1 hands at 08:45; 2 are needed.",
        day=station(StationKind.FILL, 1),
    ),
    Planted(
        name="a station that closes",
        rule="hands",
        message="Station fill has 0 hands at 09:20; 2 are needed.",
        day=station(StationKind.FILL, 2, Span(120, 200)),
    ),
    Planted(
        name="a station that opens late",
        rule="hands",
        message="Station prep has 0 hands at 08:00; 2 are needed.",
        day=station(StationKind.PREP, 2, Span(130, 600)),
    ),
    Planted(
        name="more people at canners than the station has",
        rule="hands",
        message="Station canner has 1 hands at 09:22; 2 are needed.",
        day={**WITH_EVE, **station(StationKind.CANNER, 1)},
        plan=lambda plan: eve_takes_over(plan, at=202, ada_until=212),
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found
    assert {rule for rule, _ in found} == {planted.rule} | planted.also


def test_a_watch_may_be_handed_over_where_a_phase_ends() -> None:
    day = make_day(**WITH_EVE)
    assert judge(day, eve_takes_over(make_plan(day), at=202, ada_until=212)) == ()


def test_each_canner_may_have_a_person_of_its_own() -> None:
    day = make_day(**WITH_EVE, policy=TWO_WATCHERS)
    plan = change_assignment(make_plan(day), "L2-watch", "ada", person_id="eve")
    assert judge(day, plan) == ()


def test_two_canners_watched_by_one_person_take_one_of_the_stations_hands() -> None:
    day = make_day(**station(StationKind.CANNER, 1))
    assert judge(day, make_plan(day)) == ()


def test_hands_may_change_at_any_minute() -> None:
    day = make_day(people=(ADA, BEN, CLEO, DINA, EVE))
    shorter = change_assignment(make_plan(day), "L1-fill", "dina", end=170)
    eve = Assignment(task_id="L1-fill", person_id="eve", start=170, end=175)
    assert judge(day, replace(shorter, assignments=(*shorter.assignments, eve))) == ()


def test_a_second_trained_person_may_stand_beside_the_watcher_for_a_while() -> None:
    day = make_day(**WITH_EVE)
    plan = make_plan(day)
    beside = Assignment(task_id="L1-watch", person_id="eve", start=209, end=215)
    assert judge(day, replace(plan, assignments=(*plan.assignments, beside))) == ()
