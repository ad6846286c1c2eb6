"""Whole loads: the published totals, the order of phases, and what no setting may shorten (rules S4, S5)."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.canner import Canner, least_cool_down_minutes
from scheduler.cycle import (
    BOILING_WATER_REST_MINUTES,
    OPEN_PHASES,
    PRESSURE_PHASES,
    PRESSURE_REST_MINUTES,
    VENT_MINUTES,
    Cycle,
    PhaseKind,
    cycle_for,
)
from scheduler.errors import BadDay, NoPublishedProcess
from scheduler.interval import Span
from scheduler.jars import JarSize, Pack
from scheduler.printed_process import Method, Process
from scheduler.process import STEAM_LIMIT_MINUTES, find_processes, printed_processes
from tests.factories.canners import BOILING_WATER, DIAL, GAS, STEAM, WEIGHTED

PINT, QUART = JarSize.PINT, JarSize.QUART
HEAVY = replace(DIAL, heavy_walled=True)
HANDLING_MINUTES = 10
"""Loading and unloading, which the published sums leave out."""
BOTH_CLASSES = [12.25, 12.5]


def line(food: str, pack: Pack, jar: JarSize, canner: Canner, altitude_ft: float = 0) -> Process:
    """The first printed line."""
    return find_processes(food, pack, jar, canner.kind, altitude_ft)[0]


def cycle_of(process: Process, canner: Canner, jar: JarSize) -> Cycle:
    """With the kitchen's default setting."""
    return cycle_for(canner, GAS, process, jar, cool_down_setting_minutes=40)


@pytest.mark.parametrize("diameter_in", BOTH_CLASSES)
@pytest.mark.parametrize("layers", [1, 2])
@pytest.mark.parametrize(
    ("food", "pack", "jar", "least", "most"),
    [
        ("snap_beans", Pack.RAW, QUART, 105, 110),
        ("snap_beans", Pack.HOT, QUART, 105, 110),
        ("snap_beans", Pack.RAW, PINT, 85, 90),
        ("snap_beans", Pack.HOT, PINT, 85, 90),
        ("corn_whole_kernel", Pack.RAW, QUART, 165, 170),
        ("corn_whole_kernel", Pack.HOT, QUART, 165, 170),
        ("corn_whole_kernel", Pack.RAW, PINT, 120, 125),
        ("dry_beans", Pack.HOT, QUART, 170, 175),
    ],
)
def test_heavy_walled_totals_are_the_sums_of_the_published_parts(
    diameter_in: float, layers: int, food: str, pack: Pack, jar: JarSize, least: int, most: int
) -> None:
    """Steam 12 to 15, vent 10, pressure 3 to 5, process, cool 30 or 45, wait 10. USDA AIB 539."""
    for kind in (HEAVY, replace(WEIGHTED, heavy_walled=True)):
        canner = replace(kind, inside_diameter_in=diameter_in, layers=layers)
        cycle = cycle_of(line(food, pack, jar, canner), canner, jar)

        assert least <= cycle.total_minutes - HANDLING_MINUTES <= most
        assert cycle.warnings == ()


@pytest.mark.parametrize("canner", [DIAL, HEAVY, WEIGHTED])
@pytest.mark.parametrize("jar", [PINT, QUART])
def test_an_acid_food_under_pressure_takes_the_published_total(canner: Canner, jar: JarSize) -> None:
    """55 to 100 min for applesauce and the like. USDA AIB 539 (1994), Recommended Canners."""
    cycle = cycle_of(line("applesauce", Pack.HOT, jar, canner), canner, jar)

    assert 55 <= cycle.total_minutes - HANDLING_MINUTES <= 100


@pytest.mark.parametrize(
    ("food", "jar", "least", "most"),
    [
        ("applesauce", QUART, 45, 55),
        ("applesauce", PINT, 40, 50),
        ("tomato_sauce_standard", QUART, 65, 75),
    ],
)
def test_boiling_water_totals_are_the_sums_of_the_published_parts(
    food: str, jar: JarSize, least: int, most: int
) -> None:
    """To the boil 20 to 30 min, process, rest 5. USDA AIB 539 (1994); Kansas State Univ. (2020)."""
    cycle = cycle_of(line(food, Pack.HOT, jar, BOILING_WATER), BOILING_WATER, jar)

    assert least <= cycle.total_minutes - HANDLING_MINUTES <= most


def test_seven_quarts_of_green_beans_phase_by_phase() -> None:
    cycle = cycle_of(line("snap_beans", Pack.RAW, QUART, HEAVY), HEAVY, QUART)

    assert cycle.phases == (
        (PhaseKind.LOADING, 5),
        (PhaseKind.HEAT_UP, 12),
        (PhaseKind.VENT, 10),
        (PhaseKind.PRESSURE_UP, 4),
        (PhaseKind.PROCESS, 25),
        (PhaseKind.COOL_DOWN, 45),
        (PhaseKind.REST, 10),
        (PhaseKind.UNLOADING, 5),
    )
    assert (cycle.total_minutes, cycle.heat_on, cycle.heat_off) == (116, 5, 56)
    assert cycle.minutes_until(PhaseKind.PROCESS) == 31
    assert cycle.minutes_of(PhaseKind.COOL_DOWN) == 45


@pytest.mark.parametrize("canner", [BOILING_WATER, STEAM])
def test_a_load_without_pressure_has_no_vent_and_no_cool_down(canner: Canner) -> None:
    cycle = cycle_of(line("applesauce", Pack.HOT, QUART, canner), canner, QUART)

    assert tuple(kind for kind, _ in cycle.phases) == OPEN_PHASES
    assert cycle.minutes_of(PhaseKind.VENT) == 0
    assert cycle.minutes_of(PhaseKind.REST) == 5
    with pytest.raises(KeyError):
        cycle.minutes_until(PhaseKind.COOL_DOWN)


CANNERS_FOR = {
    Method.PRESSURE_DIAL: [DIAL, HEAVY],
    Method.PRESSURE_WEIGHTED: [WEIGHTED, replace(WEIGHTED, heavy_walled=True)],
    Method.BOILING_WATER: [BOILING_WATER, STEAM],
}


@st.composite
def runs(draw: st.DrawFn) -> tuple[Process, Canner]:
    """A printed process and a canner that may run it."""
    process = draw(st.sampled_from(printed_processes()))
    canners = CANNERS_FOR[process.method]
    if process.process_minutes > STEAM_LIMIT_MINUTES:
        canners = [canner for canner in canners if canner is not STEAM]
    return process, draw(st.sampled_from(canners))


@given(
    run=runs(),
    power_w=st.integers(1000, 6000),
    own=st.none() | st.integers(1, 60),
    setting=st.integers(20, 90),
    handling=st.tuples(st.integers(1, 20), st.integers(1, 20)),
    start=st.integers(0, 600),
)
def test_no_phase_is_skipped_or_shorter_than_it_must_be(
    run: tuple[Process, Canner],
    power_w: int,
    own: int | None,
    setting: int,
    handling: tuple[int, int],
    start: int,
) -> None:
    process, canner = run[0], replace(run[1], own_heat_up_minutes=own)

    cycle = cycle_for(
        canner,
        replace(GAS, power_w=power_w),
        process,
        process.jar,
        cool_down_setting_minutes=setting,
        loading_minutes=handling[0],
        unloading_minutes=handling[1],
    )

    spans = cycle.starting_at(start)
    assert tuple(kind for kind, _ in spans) == (PRESSURE_PHASES if canner.kind.is_pressure else OPEN_PHASES)
    assert (spans[0][1].start, spans[-1][1].end) == (start, start + cycle.total_minutes)
    assert all(before.end == after.start for (_, before), (_, after) in pairwise(spans))
    assert cycle.minutes_of(PhaseKind.PROCESS) == process.process_minutes
    assert (cycle.minutes_of(PhaseKind.LOADING), cycle.minutes_of(PhaseKind.UNLOADING)) == handling
    if canner.kind.is_pressure:
        assert cycle.minutes_of(PhaseKind.VENT) == VENT_MINUTES
        assert cycle.minutes_of(PhaseKind.REST) == PRESSURE_REST_MINUTES
        least = least_cool_down_minutes(canner, process.jar)
        assert cycle.minutes_of(PhaseKind.COOL_DOWN) >= (least if canner.heavy_walled else setting)
    else:
        assert cycle.minutes_of(PhaseKind.REST) == BOILING_WATER_REST_MINUTES


def test_with_several_sizes_the_slowest_decides() -> None:
    process = line("peas_green", Pack.RAW, QUART, HEAVY)

    both = cycle_for(HEAVY, GAS, process, {PINT: 3, QUART: 2}, cool_down_setting_minutes=40)
    again = cycle_for(HEAVY, GAS, process, [QUART, PINT, PINT], cool_down_setting_minutes=40)
    pints = cycle_of(process, HEAVY, PINT)

    assert both == again
    assert (both.minutes_of(PhaseKind.COOL_DOWN), pints.minutes_of(PhaseKind.COOL_DOWN)) == (45, 30)
    assert both.minutes_of(PhaseKind.HEAT_UP) == max(
        cycle_of(process, HEAVY, jar).minutes_of(PhaseKind.HEAT_UP) for jar in (PINT, QUART)
    )


def test_a_weak_burner_is_said_in_the_cycle() -> None:
    weak = replace(GAS, name="Camp ring", power_w=1500)

    cycle = cycle_for(
        DIAL, weak, line("snap_beans", Pack.RAW, QUART, DIAL), QUART, cool_down_setting_minutes=40
    )

    assert ["Camp ring" in warning for warning in cycle.warnings] == [True, True]


@pytest.mark.parametrize("other", [WEIGHTED, BOILING_WATER, STEAM])
def test_a_process_printed_for_another_canner_is_refused(other: Canner) -> None:
    """Rule S1: dial and weighted processes are not each other's."""
    with pytest.raises(NoPublishedProcess, match="printed for a dial-gauge pressure canner"):
        cycle_of(line("snap_beans", Pack.RAW, QUART, DIAL), other, QUART)


def test_a_steam_canner_runs_no_process_above_forty_five_minutes() -> None:
    """Rule S7: its base water runs out. Univ. of Missouri Extension, Atmospheric steam canning (2017)."""
    process = line("tomatoes_whole_raw_no_liquid", Pack.RAW, QUART, BOILING_WATER)

    with pytest.raises(NoPublishedProcess, match="45 min at most, this process takes 85"):
        cycle_of(process, STEAM, QUART)


def test_a_setting_below_twenty_minutes_is_refused() -> None:
    with pytest.raises(BadDay, match="19 minutes"):
        cycle_for(DIAL, GAS, line("snap_beans", Pack.RAW, QUART, DIAL), QUART, cool_down_setting_minutes=19)


def test_a_load_of_no_jars_is_refused() -> None:
    with pytest.raises(BadDay, match="without jars"):
        cycle_for(DIAL, GAS, line("snap_beans", Pack.RAW, QUART, DIAL), (), cool_down_setting_minutes=40)


GOOD = (5, 12, 10, 4, 25, 45, 10, 5)


@pytest.mark.parametrize(
    ("index", "minutes"), [(0, 0), (1, 0), (2, 9), (3, 0), (4, 0), (5, 19), (6, 9), (7, 0)]
)
def test_a_phase_that_is_too_short_cannot_be_built(index: int, minutes: int) -> None:
    shortened = [*GOOD[:index], minutes, *GOOD[index + 1 :]]

    with pytest.raises(BadDay, match=f"{minutes} minutes are too few for the phase {PRESSURE_PHASES[index]}"):
        Cycle(phases=tuple(zip(PRESSURE_PHASES, shortened, strict=True)))


@pytest.mark.parametrize("missing", range(8))
def test_a_phase_that_is_skipped_cannot_be_built(missing: int) -> None:
    whole = tuple(zip(PRESSURE_PHASES, GOOD, strict=True))

    with pytest.raises(BadDay, match="cannot run as"):
        Cycle(phases=whole[:missing] + whole[missing + 1 :])


def test_phases_out_of_order_cannot_be_built() -> None:
    with pytest.raises(BadDay, match="cannot run as"):
        Cycle(phases=tuple(reversed(list(zip(PRESSURE_PHASES, GOOD, strict=True)))))


def test_a_boiling_water_rest_is_five_minutes_at_least() -> None:
    with pytest.raises(BadDay, match="4 minutes are too few"):
        Cycle(phases=tuple(zip(OPEN_PHASES, (5, 20, 20, 4, 5), strict=True)))


def test_spans_touch() -> None:
    cycle = Cycle(phases=tuple(zip(OPEN_PHASES, (5, 20, 20, 5, 5), strict=True)))

    assert [span for _, span in cycle.starting_at(60)] == [
        Span(60, 65),
        Span(65, 85),
        Span(85, 105),
        Span(105, 110),
        Span(110, 115),
    ]
