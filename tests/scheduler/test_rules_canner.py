"""Rules S4, S5, S6, S8, S13, S16, "canner" and "burner": a planted violation of each, and what is allowed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduler.cycle import PhaseKind
from scheduler.interval import Span
from scheduler.jars import JarSize
from scheduler.judge import judge
from scheduler.plan import Plan
from tests.factories.days import (
    BEANS,
    BLUE,
    GREY,
    TOMATOES,
    change_load,
    change_task,
    make_day,
    make_plan,
    move_edge,
    restated,
)
from tests.factories.planted import Planted, table

HELD = frozenset({"S16"})
ONE_QUART = {"batches": (replace(BEANS, jars=1), TOMATOES)}


PINTS = replace(BEANS, id="pints", jar=JarSize.PINT, jars=2, prep_person_minutes_per_jar=0.0)


def with_pints(plan: Plan) -> Plan:
    """Two pints are squeezed in among the seven quarts."""
    quarts = plan.load("L1").portions[0]
    key = "snap_beans:pressure_dial:raw:pint:2001-4000ft:20min:12psi:1.0in"
    return change_load(
        plan, "L1", portions=(quarts, replace(quarts, batch_id="pints", jars=2, process_key=key))
    )


def without_vent(plan: Plan) -> Plan:
    """The weight goes on as soon as steam shows; the time is given to the heat-up."""
    longer = move_edge(plan, "L1", PhaseKind.HEAT_UP, 10)
    phases = tuple(phase for phase in longer.load("L1").phases if phase.kind is not PhaseKind.VENT)
    return change_load(longer, "L1", phases=phases)


def rest_before_cool_down(plan: Plan) -> Plan:
    """The lid is opened, and then it cools."""
    phases = list(plan.load("L1").phases)
    phases[5], phases[6] = replace(phases[5], kind=phases[6].kind), replace(phases[6], kind=phases[5].kind)
    return change_load(plan, "L1", phases=tuple(phases))


def gap_before_process(plan: Plan) -> Plan:
    """Five minutes between the full boil and the clock, in no phase."""
    phases = list(plan.load("L2").phases)
    phases[2] = replace(phases[2], start=phases[2].start + 5)
    return change_load(plan, "L2", phases=tuple(phases))


def swapped(plan: Plan) -> Plan:
    """The second load goes into the first canner while the first load is in it."""
    return change_load(plan, "L2", canner_id="grey", number=2)


@table(
    Planted(
        name="no vent",
        rule="S4",
        message="Load L1: its phases must be loading, heat_up, vent, pressure_up, process, cool_down, rest, unloading; "
        "they are loading, heat_up, pressure_up, process, cool_down, rest, unloading.",
        plan=without_vent,
        also=HELD,
    ),
    Planted(
        name="rest before cool-down",
        rule="S4",
        message="Load L1: its phases must be loading, heat_up, vent, pressure_up, process, cool_down, rest, unloading; "
        "they are loading, heat_up, vent, pressure_up, process, rest, cool_down, unloading.",
        plan=rest_before_cool_down,
        also=HELD | {"S5"},
    ),
    Planted(
        name="a gap",
        rule="S4",
        message="Load L2: heat_up ends at 09:50 but process begins at 09:55.",
        plan=gap_before_process,
        also=HELD,
    ),
    Planted(
        name="vent of 9 minutes",
        rule="S4",
        message="Load L1: vent lasts 9 min from 09:12; it needs at least 10.",
        plan=lambda plan: move_edge(plan, "L1", PhaseKind.VENT, -1),
        also=HELD,
    ),
    Planted(
        name="heat-up of 11 minutes",
        rule="S4",
        message="Load L1: heat_up lasts 11 min from 09:00; it needs at least 12.",
        plan=lambda plan: move_edge(plan, "L1", PhaseKind.HEAT_UP, -1),
        also=HELD,
    ),
    Planted(
        name="process a minute short",
        rule="S4",
        message="Load L1: process lasts 24 min from 09:27; it needs at least 25.",
        plan=lambda plan: move_edge(plan, "L1", PhaseKind.PROCESS, -1),
        also=HELD | {"S11"},
    ),
    Planted(
        name="rest of 9 minutes after zero pressure",
        rule="S4",
        message="Load L1: rest lasts 9 min from 10:33; it needs at least 10.",
        plan=lambda plan: move_edge(plan, "L1", PhaseKind.COOL_DOWN, 1),
        also=HELD,
    ),
    Planted(
        name="rest of 4 minutes after the boil",
        rule="S4",
        message="Load L2: rest lasts 4 min from 10:30; it needs at least 5.",
        plan=lambda plan: change_task(
            move_edge(plan, "L2", PhaseKind.REST, -1), "L2-cooling", start=274, end=280
        ),
        also=HELD,
    ),
    Planted(
        name="loaded before it is filled",
        rule="S4",
        message="Load L1: loading begins at 08:55; the jars are filled at 08:56.",
        plan=lambda plan: change_task(plan, "L1-fill", end=176),
        also=HELD,
    ),
    Planted(
        name="cool-down a minute short",
        rule="S5",
        message="Load L1: Old Grey cools down 39 min from 09:52; it needs at least 40.",
        plan=lambda plan: move_edge(plan, "L1", PhaseKind.COOL_DOWN, -1),
        also=HELD,
    ),
    Planted(
        name="a heavy-walled canner that is not measured",
        rule="S5",
        message="Load L1: Old Grey cools down 40 min from 09:52; it needs at least 45.",
        day={"canners": (replace(GREY, heavy_walled=True), BLUE)},
        also=HELD,
    ),
    Planted(
        name="pressure lost and the clock not restarted",
        rule="S6",
        message="Load L1 lost pressure or boil at 09:28; only 24 of the full 25 min follow.",
        plan=lambda plan: change_load(plan, "L1", interruptions=(208,)),
        also=HELD,
    ),
    Planted(
        name="boil lost in the last minute",
        rule="S6",
        message="Load L2 lost pressure or boil at 10:30; only 0 of the full 40 min follow.",
        plan=lambda plan: change_load(plan, "L2", interruptions=(230, 270)),
        also=HELD,
    ),
    Planted(
        name="gauge not checked",
        rule="S8",
        message="Load L1: The dial gauge of Old Grey has no recorded check.",
        day={"canners": (replace(GREY, gauge_checked_on=None), BLUE)},
    ),
    Planted(
        name="gauge checked more than a year ago",
        rule="S8",
        message="Load L1: The dial gauge of Old Grey was last checked on 11 September 2025, more than a year before "
        "12 September 2026.",
        day={"canners": (replace(GREY, gauge_checked_on=date(2025, 9, 11)), BLUE)},
    ),
    Planted(
        name="gauge whose year ends before the kitchen closes, after midnight",
        rule="S8",
        message="Load L1: The dial gauge of Old Grey was last checked on 12 September 2025, more than a year before "
        "13 September 2026.",
        day={
            "canners": (replace(GREY, gauge_checked_on=date(2025, 9, 12)), BLUE),
            "opening": (Span(0, 18 * 60 + 1),),
        },
    ),
    Planted(
        name="gauge off by more than 2 lb",
        rule="S8",
        message="Load L1: The dial gauge of Old Grey is off by +2.5 lb; more than 2 lb is not correctable.",
        day={"canners": (replace(GREY, gauge_error_psi=2.5), BLUE)},
    ),
    Planted(
        name="the reading not corrected",
        rule="S8",
        message="Load L1: Old Grey must be run at 13.5 lb; the plan says 12 lb.",
        plan=lambda plan: change_load(plan, "L1", target_reading_psi=12.0),
    ),
    Planted(
        name="the reading corrected below the process",
        rule="S8",
        message="Load L1: Old Grey must be run at 12 lb; the plan says 10.5 lb.",
        day={"canners": (replace(GREY, gauge_error_psi=-1.5), BLUE)},
        plan=lambda plan: change_load(plan, "L1", target_reading_psi=10.5),
    ),
    Planted(
        name="no reading",
        rule="S8",
        message="Load L1: Old Grey must be run at 13.5 lb; the plan says no reading.",
        plan=lambda plan: change_load(plan, "L1", target_reading_psi=None),
    ),
    Planted(
        name="a reading without pressure",
        rule="S8",
        message="Load L2: Big Blue must be run at no reading; the plan says 5 lb.",
        plan=lambda plan: change_load(plan, "L2", target_reading_psi=5.0),
    ),
    Planted(
        name="more jars than the kitchen counted",
        rule="S13",
        message="Load L1: 7 quart jars do not fit into Old Grey.",
        day={"canners": (replace(GREY, own_counts={JarSize.QUART: 6}), BLUE)},
    ),
    Planted(
        name="a second layer in a canner not marked for it",
        rule="S13",
        message="Load L1: 18 pint jars do not fit into Old Grey.",
        made_for={"batches": (replace(BEANS, jar=JarSize.PINT, jars=18), TOMATOES)},
        day={"canners": (replace(GREY, layers=1), BLUE)},
        # 18 pints take longer to fill and to prepare and stand wider than the day was made for.
        also=frozenset({"times", "S12"}),
    ),
    Planted(
        name="jars of water left out",
        rule="S13",
        message="Load L2: Big Blue is filled up with 1 jars of water; the plan says 0.",
        plan=lambda plan: change_load(plan, "L2", water_jars=0),
    ),
    Planted(
        name="a small load without a warning",
        rule="S13",
        message="Load L1 has fewer than 2 quarts or 4 pints in Old Grey, and no warning names it.",
        made_for=ONE_QUART,
    ),
    Planted(
        name="a small load with a warning about something else",
        rule="S13",
        message="Load L1 has fewer than 2 quarts or 4 pints in Old Grey, and no warning names it.",
        made_for=ONE_QUART,
        plan=lambda plan: replace(plan, warnings=("Big Blue heats slowly.",)),
    ),
    Planted(
        name="two sizes that fit alone but not together",
        rule="S13",
        message="Load L1: 2 pint and 7 quart jars do not fit into Old Grey.",
        made_for={"batches": (BEANS, TOMATOES, PINTS)},
        plan=with_pints,
        also=frozenset({"S2", "S4", "S5", "S12", "S16"}),
    ),
    Planted(
        name="a deviation not on hold",
        rule="S16",
        message="Load L1 broke a rule (S6); its jars must be on hold until the lead decides.",
        plan=lambda plan: change_load(plan, "L1", deviation="S6"),
    ),
    Planted(
        name="a deviation without a name",
        rule="S16",
        message="Load L1 broke a rule (rule not named); its jars must be on hold until the lead decides.",
        plan=lambda plan: change_load(plan, "L1", deviation=""),
    ),
    Planted(
        name="a broken rule that nobody wrote down",
        rule="S16",
        message="Load L1 broke a rule (rule S5); its jars must be on hold until the lead decides.",
        plan=lambda plan: move_edge(plan, "L1", PhaseKind.COOL_DOWN, -1),
        also=frozenset({"S5"}),
    ),
    Planted(
        name="on hold for nothing",
        rule="S16",
        message="Load L2 is on hold without the rule it broke.",
        plan=lambda plan: change_load(plan, "L2", on_hold=True),
    ),
    Planted(
        name="no such canner",
        rule="canner",
        message="Load L1: there is no canner 'silver'.",
        plan=lambda plan: change_load(plan, "L1", canner_id="silver"),
    ),
    Planted(
        name="a wrong number",
        rule="canner",
        message="Load L1: it is load 1 of Old Grey; the plan says 2.",
        plan=lambda plan: change_load(plan, "L1", number=2),
    ),
    Planted(
        name="two loads at once",
        rule="canner",
        message="Load L2: Old Grey still holds load L1 at 09:25.",
        plan=swapped,
        also=frozenset({"S1", "S4", "S10", "S13", "S16", "burner"}),
    ),
    Planted(
        name="a pressure canner too small to count as one",
        rule="canner",
        message="Load L1: Old Grey does not hold 4 quarts upright, so no published process covers it.",
        day={"canners": (replace(GREY, own_counts={JarSize.QUART: 3}), BLUE)},
        also=frozenset({"S13"}),
    ),
    Planted(
        name="two canners on one burner",
        rule="burner",
        message="The left burner has Old Grey (load L1) and Big Blue (load L2) on it at 09:15.",
        day={"canners": (GREY, replace(BLUE, burner_id="left"))},
    ),
    Planted(
        name="the kettle on a canner's burner, up to the end of the fill",
        rule="burner",
        message="The right burner has Tall pot (load L2) and Big Blue (load L2) on it at 09:15.",
        day={"kettles": tuple(replace(kettle, burner_id="right") for kettle in make_day().kettles)},
    ),
    Planted(
        name="out of service",
        rule="times",
        message="Load L1: Old Grey is not in service from 08:45 to 10:47.",
        day={"canners": (replace(GREY, service=(Span(166, 600),)), BLUE)},
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found
    assert {rule for rule, _ in found} == {planted.rule} | planted.also


def test_pressure_lost_once_the_full_time_still_follows_is_no_deviation() -> None:
    day = make_day()
    plan = change_load(make_plan(day), "L1", interruptions=(190, 207))
    assert judge(day, restated(day, plan)) == ()


def test_a_load_on_hold_for_its_deviation_is_clean() -> None:
    day = make_day()
    assert judge(day, change_load(make_plan(day), "L1", deviation="S6", on_hold=True)) == ()


def test_a_hold_does_not_make_a_short_process_whole() -> None:
    day = make_day()
    short = move_edge(make_plan(day), "L1", PhaseKind.COOL_DOWN, -1)
    found = judge(day, change_load(short, "L1", deviation="S5", on_hold=True))
    assert [violation.rule for violation in found] == ["S5"]


@pytest.mark.parametrize("named", ["L1", "Old Grey"])
def test_a_small_load_may_run_with_its_warning(named: str) -> None:
    day = make_day(**ONE_QUART)
    plan = replace(make_plan(day), warnings=(f"{named}: a small load.",))
    assert plan.load("L1").water_jars == 6
    assert judge(day, plan) == ()
