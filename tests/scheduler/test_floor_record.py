"""From recorded lines to the state of a load: facts first, then what is to be expected, never less than is safe."""

from __future__ import annotations

from dataclasses import replace

from scheduler.cycle import PhaseKind
from scheduler.floor import Begun
from scheduler.floor_record import Record, as_begun, as_planned, floor_of, record_of
from scheduler.problem import Hands, Station, StationKind
from tests.factories.days import BEANS, OPENING, make_day, make_plan, make_plan_on_one_canner

PLAN = make_plan(make_day())
L1, L2 = PLAN.loads


def begun(record: Record, now: int) -> Begun:
    """The first load's state."""
    return as_begun(PLAN, L1, record, now, 15)


def span(one: Begun, kind: PhaseKind) -> tuple[int, int]:
    """When a phase was, or is expected to be."""
    phase = one.load.phase(kind)
    assert phase is not None
    return phase.start, phase.end


def test_each_line_ends_a_phase() -> None:
    lines = [("loaded", 181), ("steady_steam", 190), ("weight_on", 201), ("at_pressure", 205)]
    record = record_of(lines, under_pressure=True)
    assert record.ended == {
        PhaseKind.LOADING: 181, PhaseKind.HEAT_UP: 190, PhaseKind.VENT: 201, PhaseKind.PRESSURE_UP: 205,
    }  # fmt: skip
    assert (record.lost, record.reached) == ((), None)
    open_record = record_of([("loaded", 181), ("full_boil", 200), ("lid_off", 241)], under_pressure=False)
    assert open_record.ended == {PhaseKind.LOADING: 181, PhaseKind.HEAT_UP: 200}


def test_what_is_to_come_follows_from_what_was() -> None:
    one = begun(record_of([("loaded", 181), ("steady_steam", 190)], under_pressure=True), 195)
    assert span(one, PhaseKind.HEAT_UP) == (181, 190)
    assert span(one, PhaseKind.VENT) == (190, 200)
    assert span(one, PhaseKind.PROCESS) == (205, 230)
    assert (one.load.jars_out, one.over) == (285, 2)
    assert one.load.stand is not None
    assert (one.load.stand.start, one.load.first_call) == (285, 285 + 720)


def test_a_phase_that_should_be_over_and_is_not_lasts_until_now() -> None:
    one = begun(Record(ended={PhaseKind.LOADING: 180}), 215)
    assert span(one, PhaseKind.HEAT_UP) == (180, 216)
    assert span(one, PhaseKind.VENT) == (216, 226)


def test_after_a_loss_the_whole_process_time_follows_when_pressure_is_reached_again() -> None:
    lines = [
        ("loaded", 180),
        ("steady_steam", 192),
        ("weight_on", 202),
        ("at_pressure", 207),
        ("pressure_lost", 215),
    ]
    lost = begun(record_of(lines, under_pressure=True), 218)
    # Five minutes to come up to pressure again, as planned the first time, from now on.
    assert lost.clock_from == 223
    assert span(lost, PhaseKind.PROCESS) == (207, 223 + 25)
    reached = begun(record_of([*lines, ("at_pressure", 221)], under_pressure=True), 222)
    assert reached.clock_from == 221
    assert span(reached, PhaseKind.PROCESS) == (207, 221 + 25)
    assert reached.load.interruptions == (215,)


def test_a_forgotten_line_is_made_good_from_those_after_it() -> None:
    one = begun(record_of([("loaded", 180), ("jars_out", 287)], under_pressure=True), 290)
    assert one.over == len(one.load.phases)
    assert one.load.jars_out == 287
    assert span(one, PhaseKind.COOL_DOWN) == (232, 272)


def test_jars_lifted_out_as_soon_as_the_rest_is_over_have_rested() -> None:
    lines = [("loaded", 210), ("full_boil", 230), ("heat_off", 270), ("jars_out", 275)]
    one = as_begun(PLAN, L2, record_of(lines, under_pressure=False), 280, 15)
    assert span(one, PhaseKind.REST) == (270, 275)
    assert one.load.jars_out == 276


def test_a_load_that_only_the_plan_had_begin_has_not_where_its_canner_was_still_taken() -> None:
    day = make_day(batches=(BEANS, replace(BEANS, id="more")))
    plan = make_plan_on_one_canner(day, filled_after=5)
    first, second = plan.loads
    now = second.phases[0].start
    records = dict(as_planned(plan, now))
    assert [one.load.id for one in floor_of(day, plan, now, records).begun] == ["L1", "L2"]
    late = {**records, "L1": Record(ended={PhaseKind.LOADING: first.phases[0].end + 20})}
    assert [one.load.id for one in floor_of(day, plan, now, late).begun] == ["L1"]
    tapped = {**late, "L2": Record(ended={PhaseKind.LOADING: now})}
    assert [one.load.id for one in floor_of(day, plan, now, tapped).begun] == ["L1", "L2"]


def test_the_watch_goes_from_heat_on_to_heat_off_and_the_jars_are_lifted_out_at_the_end() -> None:
    one = begun(record_of([("loaded", 190)], under_pressure=True), 195)
    times = {task.kind.value: (task.start, task.end) for task in one.tasks}
    assert times["watch"] == (190, 242)
    assert times["cooling"] == (292, 297)
    assert times["prep"] == (120, 155)


def test_jars_rest_longer_where_there_are_not_enough_hands_to_lift_two_loads_out() -> None:
    cooling = Station(kind=StationKind.COOLING, hands=(Hands(span=OPENING, count=1),))
    # The first load is quick and would come out with the second.
    records = {
        "L1": Record(ended={phase.kind: phase.end - 6 for phase in L1.phases[:6]}),
        "L2": Record(ended={phase.kind: phase.end for phase in L2.phases[:3]}),
    }
    outs = [one.load.phases[-1] for one in floor_of(make_day(), PLAN, 272, records).begun]
    assert [(one.start, one.end) for one in outs] == [(276, 281), (275, 280)]
    day = make_day(stations=(cooling,))
    first, second = floor_of(day, PLAN, 272, records).begun
    assert (second.load.phases[-1].start, first.load.phases[-1].start) == (275, 280)
    assert span(first, PhaseKind.REST) == (266, 280)
    assert first.load.first_call == first.load.jars_out + 720
    assert next(task.start for task in first.tasks if task.kind == "cooling") == 280
