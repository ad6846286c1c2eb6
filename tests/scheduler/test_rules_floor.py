"""A day under way: what is a fact is no fault, and a planted violation of everything a plan must not do to it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.cycle import PhaseKind
from scheduler.errors import BadDay
from scheduler.floor import Begun, Floor, Lost
from scheduler.floor_record import Record, lost_load
from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Assignment, LeftOut, Plan
from scheduler.problem import Hands, Person, Station, StationKind
from tests.factories.days import (
    BEANS,
    OPENING,
    PEOPLE,
    change_assignment,
    change_load,
    change_portion,
    change_task,
    make_day,
    make_plan,
    restated,
    without_task,
)
from tests.factories.floors import NOW, as_recorded, ends_by, floor_at, under_way
from tests.factories.planted import Planted, table

ADA, BEN, CLEO, DINA = PEOPLE
EVE = Person(id="eve", name="Eve Stone", hours=(OPENING,), trained=True)
PLAN = make_plan(make_day())
L1 = PLAN.load("L1")
COOLING = 240
OUT = 300


def recorded(**changes: object) -> Record:
    """The first load's record by 300, when its jars are out, with changes."""
    return replace(Record(ended=ends_by(L1, OUT)), **changes)  # type: ignore[arg-type]


def ended(now: int = OUT, **minutes: int) -> dict[PhaseKind, int]:
    """The ends as planned, but for those given by the phase's name."""
    return {**ends_by(L1, now), **{PhaseKind(name): minute for name, minute in minutes.items()}}


def found(now: int, record: Record | None = None, **day: object) -> list[str]:
    """The rules that the judge finds broken by the plan as the floor has it."""
    this = under_way(now, {"L1": record} if record else None, **day)
    return [one.rule for one in judge(this, restated(this, as_recorded(this, PLAN)))]


@table(
    Planted(
        name="a begun load that begins later",
        rule="floor",
        message="Load L1: it has begun; nothing of it can be planned otherwise.",
        day={"floor": floor_at(COOLING)},
        plan=lambda plan: change_load(plan, "L1", first_call=plan.load("L1").first_call + 1),
        also=frozenset({"S11"}),
    ),
    Planted(
        name="jars added to a begun load",
        rule="floor",
        message="Load L1: it has begun; its jars cannot be changed any more.",
        day={"floor": floor_at(COOLING)},
        plan=lambda plan: change_portion(plan, "L1", jars=8),
        also=frozenset({"S12", "S13", "count"}),
    ),
    Planted(
        name="a begun load that is missing",
        rule="floor",
        message="Load L1: it has begun and is missing from the plan.",
        day={"floor": floor_at(COOLING)},
        plan=lambda plan: replace(plan, loads=plan.loads[1:]),
        also=frozenset({"times", "count"}),
    ),
    Planted(
        name="a watch that is planned to end while the heat is on",
        rule="floor",
        message="Load L1: it has begun; its work cannot be planned otherwise.",
        day={"floor": floor_at(NOW)},
        plan=lambda plan: change_task(plan, "L1-watch", end=230),
        also=frozenset({"S9"}),
    ),
    Planted(
        name="a new load that is filled before now",
        rule="floor",
        message="Load L2: its fill would begin at 09:15, and it is 09:20.",
        day={"floor": replace(floor_at(NOW), now=200)},
    ),
    Planted(
        name="a prep that nobody began, before now",
        rule="floor",
        message="Load L2: its prep would begin at 08:35, and it is 09:10.",
        day={"floor": replace(floor_at(NOW), prepared=())},
    ),
    Planted(
        name="a prep that was done, said to have been done otherwise",
        rule="floor",
        message="Load L2: its prep would begin at 08:36, and it is 09:10.",
        day={"floor": floor_at(NOW)},
        plan=lambda plan: change_task(plan, "L2-prep", start=156, end=164),
    ),
    Planted(
        name="no prep for a batch that nobody prepared",
        rule="times",
        message="Load L2: batch tomatoes needs one prep; the plan has 0.",
        day={"floor": replace(floor_at(NOW), prepared=floor_at(NOW).prepared[1:])},
        plan=lambda plan: without_task(plan, "L2-prep"),
    ),
    Planted(
        name="a load planned on that lost its canner",
        rule="S16",
        message="Load L1 lost its canner before the process ended; it cannot be planned on.",
        day={
            "floor": Floor(
                now=NOW,
                prepared=floor_at(NOW).prepared,
                lost=(lost_load(PLAN, "L1", "Old Grey failed.", is_fill_known=False),),
            )
        },
        also=frozenset({"floor", "canner"}),
    ),
    Planted(
        name="the jars of a lost load planned again, without the lead",
        rule="S16",
        message="7 jars of batch beans lost their canner and wait for the lead; the plan holds 0.",
        day={
            "floor": Floor(
                now=NOW,
                prepared=floor_at(NOW).prepared,
                lost=(lost_load(PLAN, "L1", "Old Grey failed.", is_fill_known=False),),
            )
        },
        plan=lambda plan: replace(
            plan, loads=tuple(replace(load, id="L3") if load.id == "L1" else load for load in plan.loads)
        ),
        also=frozenset({"floor", "canner", "times", "S4", "S9", "S10", "people"}),
    ),
    Planted(
        name="the watcher of a begun load is gone and still named",
        rule="S9",
        message="Load L1: Ada Brook is not here for all of 09:10 to 09:52.",
        day={"floor": floor_at(NOW), "people": (replace(ADA, hours=(Span(120, NOW),)), BEN, CLEO, DINA, EVE)},
        also=frozenset({"S9"}),
    ),
    Planted(
        name="a watch taken from somebody who is still here",
        rule="S9",
        message="Load L1: Ada Brook watches it and is still here; the watch is not handed over at once.",
        day={"floor": floor_at(NOW), "people": (*PEOPLE, EVE)},
        plan=lambda plan: eve_watches(plan, "L1-watch", from_minute=NOW),
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    rules = planted.found()
    assert (planted.rule, planted.message) in rules
    assert {rule for rule, _ in rules} <= {planted.rule} | planted.also


def eve_watches(plan: Plan, task_id: str, *, from_minute: int) -> Plan:
    """Eve takes a watch at that minute."""
    end = next(task.end for task in plan.tasks if task.id == task_id)
    plan = change_assignment(plan, task_id, "ada", end=from_minute)
    eve = Assignment(task_id=task_id, person_id="eve", start=from_minute, end=end)
    return replace(plan, assignments=(*plan.assignments, eve))


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"people": (replace(ADA, hours=(Span(120, 225),)), BEN, EVE)}, id="gone before it ends"),
        pytest.param(
            {"people": (replace(ADA, comes_with="ben"), replace(BEN, hours=(Span(120, 225),)), EVE)},
            id="gone with whom they come",
        ),
        pytest.param(
            {"people": (replace(ADA, cannot=frozenset({StationKind.CANNER})), BEN, EVE)}, id="unable by now"
        ),
        pytest.param(
            {
                "people": (ADA, BEN, EVE),
                "stations": (Station(kind=StationKind.CANNER, hands=(Hands(span=OPENING, count=1),)),),
            },
            id="no room beside the other",
        ),
    ],
)
def test_a_watch_goes_at_once_from_somebody_who_cannot_go_on(changes: dict[str, object]) -> None:
    day = make_day(floor=floor_at(NOW), **changes)
    plan = eve_watches(PLAN, "L1-watch", from_minute=NOW)
    assert not [one for one in judge(day, restated(day, plan)) if "still here" in one.message]


@pytest.mark.parametrize("now", [180, NOW, 202, 231, COOLING, 272, OUT])
def test_the_plan_still_keeps_every_rule_while_all_runs_as_planned(now: int) -> None:
    # From 195 on the second load has begun as well.
    day = under_way(now)
    assert judge(day, restated(day, PLAN)) == ()


@pytest.mark.parametrize(
    "record",
    [
        pytest.param(
            recorded(
                ended=ended(
                    heat_up=186,
                    vent=196,
                    pressure_up=199,
                    process=224,
                    cool_down=250,
                    rest=262,
                    unloading=264,
                )
            ),
            id="quicker than expected",
        ),
        pytest.param(
            recorded(ended=ended(cool_down=253, rest=263, unloading=268)), id="as quick as published"
        ),
        pytest.param(
            recorded(ended=ended(process=220), deviation="Processed 13 of 25 minutes.", on_hold=True),
            id="too short, on hold",
        ),
        pytest.param(recorded(ended=ended(process=220), settled=True), id="too short, decided by a lead"),
        pytest.param(recorded(lost=(210,), reached=207 + 6, ended=ended(process=238)), id="begun anew"),
    ],
)
def test_a_fact_is_no_fault_of_the_plan(record: Record) -> None:
    assert found(OUT, record) == []


@pytest.mark.parametrize(
    ("record", "rules"),
    [
        pytest.param(recorded(ended=ended(process=231)), ["S4", "S16"], id="a process a minute short"),
        pytest.param(recorded(ended=ended(vent=201)), ["S4", "S16"], id="a vent a minute short"),
        pytest.param(recorded(ended=ended(cool_down=251)), ["S5", "S16"], id="a cool-down forced"),
        pytest.param(
            recorded(lost=(210,), reached=213),
            ["S6", "S6", "S16"],
            id="pressure lost, and not the whole time after it",
        ),
    ],
)
def test_what_was_too_short_cannot_pass_for_finished(record: Record, rules: list[str]) -> None:
    assert found(OUT, record) == rules


def test_the_clock_runs_anew_from_when_pressure_is_reached_not_from_when_it_was_lost() -> None:
    # Lost at 210, reached at 220: 25 minutes after the loss are not enough.
    record = recorded(lost=(210,), reached=220, ended=ended(process=240))
    assert found(OUT, record) == ["S6", "S16"]


def test_what_is_still_to_come_of_a_held_load_is_judged_like_any_other() -> None:
    held = Record(ended=ended(COOLING, vent=200), deviation="Vented 8 of 10 minutes.", on_hold=True)
    day = under_way(COOLING, {"L1": held})
    assert day.floor is not None
    begun: Begun = day.floor.begun[0]
    phases = list(begun.load.phases)
    phases[5] = replace(phases[5], end=phases[5].start + 15)
    phases[6] = replace(phases[6], start=phases[5].end)
    load = replace(begun.load, phases=tuple(phases))
    day = make_day(floor=replace(day.floor, begun=(replace(begun, load=load), *day.floor.begun[1:])))
    rules = {one.rule for one in judge(day, restated(day, as_recorded(day, PLAN)))}
    assert rules == {"S5"}


def test_whoever_takes_over_from_somebody_gone_needs_no_ten_minutes_together() -> None:
    people = (replace(ADA, hours=(Span(120, NOW),)), BEN, CLEO, DINA, EVE)
    day = under_way(people=people)
    plan = eve_watches(eve_watches(PLAN, "L1-watch", from_minute=NOW), "L2-watch", from_minute=210)
    plan = replace(plan, assignments=tuple(one for one in plan.assignments if one.start < one.end))
    assert judge(day, restated(day, plan)) == ()


def test_lost_jars_on_hold_are_what_a_plan_may_say_of_them() -> None:
    lost = lost_load(PLAN, "L1", "Old Grey failed.", is_fill_known=False)
    day = make_day(floor=Floor(now=NOW, prepared=floor_at(NOW).prepared, lost=(lost,)))
    assert judge(day, restated(day, without_beans("on-hold"))) == ()
    assert [one.rule for one in judge(day, restated(day, without_beans("day-full")))] == ["S16"]


def test_lost_jars_within_the_waiting_limit_may_begin_again() -> None:
    lost: Lost = lost_load(PLAN, "L1", "Old Grey failed.", is_fill_known=True)
    soon = make_day(floor=Floor(now=185, prepared=floor_at(NOW).prepared, lost=(lost,)))
    assert judge(soon, restated(soon, without_beans("day-full"))) == ()
    late = make_day(floor=Floor(now=186, prepared=floor_at(NOW).prepared, lost=(lost,)))
    assert [one.rule for one in judge(late, restated(late, without_beans("day-full")))] == ["S16"]


def without_beans(code: str) -> Plan:
    """The second load alone, the beans left out under this code."""
    left = LeftOut(batch_id="beans", jars=7, code=code, reason="Old Grey failed.", remedy="Decide.")
    plan = PLAN
    for task in PLAN.tasks:
        if task.load_id == "L1":
            plan = without_task(plan, task.id)
    return replace(plan, loads=plan.loads[1:], left_out=(left,))


def test_a_batch_cannot_have_fewer_jars_than_are_in_canners() -> None:
    with pytest.raises(BadDay, match="said to have 6 jars; 7 are in canners or on hold already"):
        under_way(batches=(replace(BEANS, jars=6), make_day().batches[1]))


def test_a_load_is_told_once() -> None:
    floor = floor_at(NOW)
    with pytest.raises(BadDay, match="Load L1 is told twice"):
        replace(floor, begun=floor.begun * 2)


def test_a_load_that_begins_later_has_not_begun() -> None:
    with pytest.raises(BadDay, match="said to have begun, but not before now"):
        replace(floor_at(NOW), now=160)
