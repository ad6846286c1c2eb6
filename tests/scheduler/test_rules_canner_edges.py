"""Rules S4, S5, S6, S8, S13 and "burner" at their edges, and for loads of which the tables know nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from scheduler.canner import Canner
from scheduler.canner_kind import CannerKind
from scheduler.cycle import PhaseKind
from scheduler.jars import JarSize, Pack
from scheduler.judge import judge
from scheduler.plan import Plan, Task, TaskKind
from scheduler.problem import Day, Policy
from tests.factories.days import (
    BEANS,
    BLUE,
    GREY,
    TOMATOES,
    change_load,
    change_portion,
    change_task,
    make_day,
    make_plan,
    move_edge,
    restated,
    without_task,
)
from tests.factories.planted import Planted, table

BEANS_KEY = "snap_beans:pressure_dial:raw:quart:2001-4000ft:25min:12psi:1.0in"
PINT_KEY = "snap_beans:pressure_dial:raw:pint:2001-4000ft:20min:12psi:1.0in"
SHARE = Policy(share_under_longest=True)
FOUR = replace(BEANS, jars=4)
PINTS = replace(BEANS, id="pints", jar=JarSize.PINT, jars=2, prep_person_minutes_per_jar=0.0)
HELD = frozenset({"S16"})


def unknown(plan: Plan) -> Plan:
    """The first load's row is none that is printed."""
    return change_portion(plan, "L1", process_key="nothing printed")


def lasting(plan: Plan, kind: PhaseKind, minutes: int) -> Plan:
    """One phase of the first load lasts so long; the next makes up for it."""
    phase = plan.load("L1").phase(kind)
    assert phase is not None
    return move_edge(plan, "L1", kind, minutes - (phase.end - phase.start))


def warm(start: int, end: int) -> Callable[[Plan], Plan]:
    """The first load has a kettle on the small burner."""
    task = Task(
        id="L1-kettle", kind=TaskKind.KETTLE, start=start, end=end, hands=1, load_id="L1", kettle_id="pot"
    )
    return lambda plan: replace(plan, tasks=(*plan.tasks, task))


@table(
    Planted(
        name="a loading shorter than the kitchen's",
        rule="S4",
        message="Load L1: loading lasts 5 min from 08:55; it needs at least 6.",
        day={"policy": Policy(loading_minutes=6)},
        also=HELD,
    ),
    Planted(
        name="an unloading shorter than the kitchen's",
        rule="S4",
        message="Load L1: unloading lasts 5 min from 10:42; it needs at least 6.",
        day={"policy": Policy(unloading_minutes=6)},
        also=HELD,
    ),
    Planted(
        name="a phase of no minute where no row tells how long",
        rule="S4",
        message="Load L1: heat_up lasts 0 min from 09:00; it needs at least 1.",
        plan=lambda plan: lasting(unknown(plan), PhaseKind.HEAT_UP, 0),
        also=frozenset({"S1", "S16"}),
    ),
    Planted(
        name="a heat-up too short for a load of which nobody says how many jars it has",
        rule="S4",
        message="Load L1: heat_up lasts 11 min from 09:00; it needs at least 12.",
        plan=lambda plan: change_portion(lasting(plan, PhaseKind.HEAT_UP, 11), "L1", jars=0),
        also=frozenset({"count", "S12", "S16"}),
    ),
    Planted(
        name="a process of no minute where no row tells how long",
        rule="S4",
        message="Load L1: process lasts 0 min from 09:27; it needs at least 1.",
        plan=lambda plan: lasting(unknown(plan), PhaseKind.PROCESS, 0),
        also=frozenset({"S1", "S11", "S16"}),
    ),
    Planted(
        name="pressure lost as the clock began, and a minute taken off",
        rule="S6",
        message="Load L1 lost pressure or boil at 09:27; only 24 of the full 25 min follow.",
        plan=lambda plan: change_load(lasting(plan, PhaseKind.PROCESS, 24), "L1", interruptions=(207,)),
        also=frozenset({"S4", "S11", "S16"}),
    ),
    Planted(
        name="the process of a load without any",
        rule="S4",
        message="Load L1: its phases must be loading, heat_up, vent, pressure_up, process, cool_down, rest, "
        "unloading; they are none.",
        plan=lambda plan: change_load(plan, "L1", phases=(), interruptions=(207,)),
        also=frozenset({"S16", "times"}),
    ),
    Planted(
        name="pressure lost where no row tells how long",
        rule="S1",
        message="Load L1: no published row is named 'nothing printed'.",
        plan=lambda plan: change_load(unknown(plan), "L1", interruptions=(207,)),
    ),
    Planted(
        name="run at the lower of two pressures",
        rule="S8",
        message="Load L1: Old Grey must be run at 13.5 lb; the plan says 8.5 lb.",
        made_for={"batches": (BEANS, TOMATOES, replace(PINTS, food_id="applesauce"))},
        plan=lambda plan: change_load(
            plan,
            "L1",
            target_reading_psi=8.5,
            portions=(
                *plan.load("L1").portions,
                replace(plan.load("L1").portions[0], batch_id="pints", jars=2, process_key=SAUCE_KEY),
            ),
        ),
        also=frozenset({"S1", "S2", "S4", "S5", "S12", "S13", "S14", "S16"}),
    ),
    Planted(
        name="no room for water where the plan states too short a process",
        rule="S13",
        message="Load L2: 8 pint jars do not fit into Big Blue.",
        day={"canners": (GREY, replace(BLUE, inside_depth_in=7.0))},
        plan=lambda plan: change_load(plan, "L2", process_minutes=30),
        also=frozenset({"S3"}),
    ),
    Planted(
        name="a burner that is still in use when the kettle stays on",
        rule="burner",
        message="The small burner has Tall pot (load L2) and Tall pot (load L1) on it at 09:40.",
        plan=lambda plan: warm(220, 225)(change_task(plan, "L2-kettle", end=230)),
        also=frozenset({"kettle", "people"}),
    ),
    Planted(
        name="a burner that is needed again while its load is not filled at all",
        rule="burner",
        message="The small burner has Tall pot (load L2) and Tall pot (load L1) on it at 09:10.",
        plan=lambda plan: warm(190, 194)(without_task(plan, "L2-fill")),
        also=frozenset({"kettle", "people", "times"}),
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found
    assert {rule for rule, _ in found} == {planted.rule} | planted.also


SAUCE_KEY = "applesauce:pressure_dial:hot:pint:2001-4000ft:8min:7psi:0.5in"


@pytest.mark.parametrize("kind", [PhaseKind.LOADING, PhaseKind.PROCESS])
def test_a_minute_is_a_phase_where_no_row_tells_how_long(kind: PhaseKind) -> None:
    day = make_day()
    plan = lasting(unknown(make_plan(day)), kind, 1)
    assert "S4" not in {one.rule for one in judge(day, restated(day, plan))}


def test_pressure_that_falls_once_the_heat_is_off_is_no_loss() -> None:
    day = make_day()
    assert judge(day, change_load(make_plan(day), "L1", interruptions=(240,))) == ()


def test_pressure_lost_before_the_clock_began_is_no_loss() -> None:
    day = make_day()
    assert judge(day, change_load(make_plan(day), "L1", interruptions=(206,))) == ()


def shared(day: Day) -> Plan:
    """Four quarts of 25 minutes, and two pints of 20 listed after them."""
    plan = make_plan(day)
    quarts = plan.load("L1").portions[0]
    pints = replace(quarts, batch_id="pints", jars=2, process_key=PINT_KEY)
    return change_load(plan, "L1", portions=(quarts, pints))


def rules_of(day: Day, plan: Plan) -> list[tuple[str, str]]:
    """What is found of the first load's phases and clock."""
    found = judge(day, restated(day, plan))
    return [(one.rule, one.message) for one in found if one.rule in ("S4", "S5", "S6")]


def test_the_longer_process_counts_whichever_is_listed_last() -> None:
    day = make_day(batches=(FOUR, TOMATOES, PINTS), policy=SHARE)
    short = lasting(shared(day), PhaseKind.PROCESS, 24)
    assert ("S4", "Load L1: process lasts 24 min from 09:27; it needs at least 25.") in rules_of(day, short)


def test_after_a_loss_the_longer_process_follows() -> None:
    day = make_day(batches=(FOUR, TOMATOES, PINTS), policy=SHARE)
    lost = change_load(shared(day), "L1", interruptions=(208,))
    assert (
        "S6",
        "Load L1 lost pressure or boil at 09:28; only 24 of the full 25 min follow.",
    ) in rules_of(day, lost)


def test_jars_of_the_slower_size_are_reckoned_with_the_slower_pack() -> None:
    """Raw quarts alone heat up in 12 minutes; hot pints among them are of the size that takes 15."""
    hot = replace(PINTS, pack=Pack.HOT)
    day = make_day(batches=(FOUR, TOMATOES, hot), policy=SHARE)
    plan = shared(day)
    quarts, pints = plan.load("L1").portions
    pints = replace(pints, process_key=PINT_KEY.replace(":raw:", ":hot:"))
    found = rules_of(day, change_load(plan, "L1", portions=(quarts, pints)))
    assert ("S4", "Load L1: heat_up lasts 12 min from 09:00; it needs at least 15.") in found


def test_a_steam_canner_is_judged_by_what_is_stated_and_by_what_is_printed() -> None:
    steam = make_day(canners=(GREY, replace(BLUE, kind=CannerKind.STEAM)))
    stated = change_load(make_plan(make_day()), "L2", process_minutes=46)
    assert "Load L2 runs 46 min in Big Blue; a steam canner may run 45 min at most." in [
        one.message for one in judge(steam, restated(steam, stated)) if one.rule == "S7"
    ]
    juice = replace(TOMATOES, food_id="tomatoes_whole_in_juice")
    printed = change_load(make_plan(make_day(batches=(BEANS, juice))), "L2", process_minutes=45)
    steam = replace(steam, batches=(BEANS, juice))
    assert "Load L2 runs 90 min in Big Blue; a steam canner may run 45 min at most." in [
        one.message for one in judge(steam, restated(steam, printed)) if one.rule == "S7"
    ]


def test_of_food_that_nobody_brought_no_acid_is_judged() -> None:
    day = make_day()
    plan = change_portion(make_plan(day), "L2", batch_id="peas")
    assert "S7" not in {one.rule for one in judge(day, restated(day, plan))}


def test_pressures_are_never_mixed_even_where_times_may_be() -> None:
    day = make_day(batches=(FOUR, TOMATOES, PINTS), policy=SHARE)
    plan = shared(day)
    quarts, pints = plan.load("L1").portions
    lower = replace(pints, process_key=PINT_KEY.replace("2001-4000ft", "0-2000ft").replace("12psi", "11psi"))
    mixed = change_load(plan, "L1", portions=(quarts, lower))
    assert "S2" in {one.rule for one in judge(day, restated(day, mixed))}


def test_jars_that_are_not_there_are_not_heated() -> None:
    """Pints among the quarts take 15 minutes, quarts alone 12."""
    day = make_day(batches=(BEANS, TOMATOES, PINTS), policy=SHARE)
    plan = shared(day)
    quarts, pints = plan.load("L1").portions
    none = change_load(plan, "L1", portions=(quarts, replace(pints, jars=0)))
    assert rules_of(day, none) == []
    assert ("S4", "Load L1: heat_up lasts 12 min from 09:00; it needs at least 15.") in rules_of(day, plan)


@pytest.mark.parametrize(("food", "clean"), [("applesauce", True), ("tomato_juice", False)])
def test_a_low_canner_has_room_for_the_water_of_a_short_process_alone(food: str, clean: bool) -> None:
    """1 in over the jars up to 30 minutes, 2 in above. Source: USDA AIB 539, Using Boiling Water Canners."""
    batch = replace(TOMATOES, food_id=food)
    day = make_day(canners=(GREY, replace(BLUE, inside_depth_in=7.0)), batches=(BEANS, batch))
    plan = make_plan(day)
    assert (plan.load("L2").process_minutes <= 30) is clean
    assert ("S13" not in {one.rule for one in judge(day, plan)}) is clean


def test_where_no_row_tells_how_long_a_canner_needs_the_deep_water() -> None:
    day = make_day(canners=(GREY, replace(BLUE, inside_depth_in=7.0)))
    plan = change_portion(make_plan(make_day()), "L2", process_key="nothing printed")
    found = judge(day, restated(day, change_load(plan, "L2", process_minutes=20)))
    assert "Load L2: 8 pint jars do not fit into Big Blue." in [one.message for one in found]


@pytest.mark.parametrize(
    ("canner", "jar", "minutes"),
    [
        pytest.param(replace(GREY, heavy_walled=True), JarSize.PINT, 30, id="heavy-walled, pints"),
        pytest.param(
            replace(GREY, own_cool_down_minutes={JarSize.QUART: 26}), JarSize.QUART, 26, id="measured"
        ),
    ],
)
def test_the_kitchens_setting_is_for_what_nobody_printed_or_measured(
    canner: Canner, jar: JarSize, minutes: int
) -> None:
    """The setting is 40 minutes. Heavy-walled: 30 minutes for pints (rule S5)."""
    day = make_day(canners=(canner, BLUE), batches=(replace(BEANS, jar=jar), TOMATOES))
    plan = make_plan(day)
    phase = plan.load("L1").phase(PhaseKind.COOL_DOWN)
    assert phase is not None
    assert phase.end - phase.start == minutes
    assert judge(day, plan) == ()
