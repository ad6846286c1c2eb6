"""Canners and burners: what is refused, and the gauge (rule S8)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any  # a table of keyword changes has values of every field's type

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.canner import (
    Burner,
    Canner,
    check_gauge,
    least_cool_down_minutes,
    target_reading_psi,
)
from scheduler.errors import BadDay, CannerOutOfService
from scheduler.jars import JarSize
from tests.factories.canners import BOILING_WATER, DIAL, GAS, STEAM, WEIGHTED

CHECKED = date(2026, 8, 1)


@pytest.mark.parametrize(
    ("canner", "changes", "said"),
    [
        (DIAL, {"inside_diameter_in": 0.0}, "inside diameter"),
        (DIAL, {"inside_diameter_in": float("nan")}, "inside diameter"),
        (DIAL, {"inside_depth_in": -1.0}, "inside depth"),
        (DIAL, {"layers": 0}, "0 layers"),
        (DIAL, {"layers": 3}, "3 layers"),
        (DIAL, {"water_l": 0.0}, "water"),
        (DIAL, {"empty_mass_kg": 0.0}, "empty mass"),
        (DIAL, {"gauge_error_psi": float("nan")}, "no number"),
        (DIAL, {"own_heat_up_minutes": 0}, "heat-up"),
        (DIAL, {"own_pressure_up_minutes": 0}, "pressure-up"),
        (DIAL, {"own_counts": {JarSize.QUART: 0}}, "0 quart"),
        (WEIGHTED, {"gauge_checked_on": CHECKED}, "no dial-gauge"),
        (WEIGHTED, {"gauge_error_psi": 0.5}, "no dial-gauge"),
        (BOILING_WATER, {"heavy_walled": True}, "heavy-walled"),
        (BOILING_WATER, {"own_pressure_up_minutes": 4}, "no pressure canner"),
        (STEAM, {"own_cool_down_minutes": {JarSize.QUART: 40}}, "no pressure canner"),
    ],
)
def test_a_canner_that_contradicts_itself_is_refused(
    canner: Canner, changes: dict[str, Any], said: str
) -> None:
    with pytest.raises(BadDay, match=said):
        replace(canner, **changes)


@pytest.mark.parametrize(
    "changes", [{"power_w": 0}, {"power_w": 40_000}, {"efficiency": 0.0}, {"efficiency": 1.1}]
)
def test_a_burner_that_cannot_be_is_refused(changes: dict[str, Any]) -> None:
    with pytest.raises(BadDay, match="Burner Gas ring"):
        replace(GAS, **changes)


def test_an_unknown_burner_is_planned_as_gas() -> None:
    assert Burner(id="b", name="B", power_w=2000).efficiency == 0.40


def test_two_layers_of_pints_are_no_count_for_a_canner_marked_for_one() -> None:
    """Rule S13. By its diameter one layer holds at most 14 of the narrowest pints on any chart."""
    eighteen = {JarSize.PINT: 18}

    assert replace(DIAL, own_counts=eighteen, layers=2).own_counts == eighteen
    with pytest.raises(BadDay, match="18 pint"):
        replace(DIAL, own_counts=eighteen, layers=1)


def test_fourteen_quarts_are_no_count_for_a_canner_ten_and_a_half_inches_deep() -> None:
    """A wrong claim about 21 to 23 qt canners: quarts cannot be stacked in them. USDA AIB 539: 7."""
    assert replace(DIAL, own_counts={JarSize.QUART: 8}).own_counts == {JarSize.QUART: 8}
    with pytest.raises(BadDay, match="14 quart"):
        replace(DIAL, own_counts={JarSize.QUART: 14})


@pytest.mark.parametrize(
    ("heavy_walled", "jar", "least"),
    [
        (False, JarSize.PINT, 20),
        (False, JarSize.QUART, 20),
        (True, JarSize.QUARTER_PINT, 30),
        (True, JarSize.PINT, 30),
        (True, JarSize.PINT_AND_HALF, 45),
        (True, JarSize.QUART, 45),
    ],
)
def test_no_measurement_takes_the_cool_down_below_rule_s5(
    heavy_walled: bool, jar: JarSize, least: int
) -> None:
    """20 to 60 min to plan with; heavy-walled 30 min pints, 45 min quarts. USDA AIB 539 (1994); PNW 421."""
    canner = replace(DIAL, heavy_walled=heavy_walled)

    assert least_cool_down_minutes(canner, jar) == least
    assert replace(canner, own_cool_down_minutes={jar: least}).own_cool_down_minutes == {jar: least}
    with pytest.raises(BadDay, match=f"no less than {least}"):
        replace(canner, own_cool_down_minutes={jar: least - 1})


def test_a_canner_is_not_changed_through_the_mapping_it_was_given() -> None:
    counts = {JarSize.QUART: 7}
    canner = replace(DIAL, own_counts=counts)

    counts[JarSize.QUART] = 8

    assert canner.own_counts == {JarSize.QUART: 7}


def test_equal_canners_hash_alike_and_a_count_tells_them_apart() -> None:
    counted = replace(DIAL, own_counts={JarSize.QUART: 7})

    assert len({DIAL, replace(DIAL), counted}) == 2


@pytest.mark.parametrize(
    ("checked", "on"),
    [
        (date(2026, 8, 1), date(2026, 8, 1)),
        (date(2026, 8, 1), date(2027, 8, 1)),
        (date(2028, 2, 29), date(2029, 2, 28)),
        (date(2027, 3, 1), date(2028, 3, 1)),
    ],
)
def test_a_gauge_checked_within_the_year_is_in_service(checked: date, on: date) -> None:
    check_gauge(replace(DIAL, gauge_checked_on=checked), on)


@pytest.mark.parametrize(
    ("checked", "on", "said"),
    [
        (None, date(2026, 8, 1), "no recorded check"),
        (date(2026, 8, 1), date(2027, 8, 2), "more than a year"),
        (date(2028, 2, 29), date(2029, 3, 1), "more than a year"),
        (date(2026, 8, 2), date(2026, 8, 1), "after 1 August 2026"),
    ],
)
def test_a_gauge_without_a_check_in_the_last_year_is_out_of_service(
    checked: date | None, on: date, said: str
) -> None:
    """Every year before use: Iowa State Univ. Extension, Time to Test Gauges (2024)."""
    with pytest.raises(CannerOutOfService, match=said):
        check_gauge(replace(DIAL, gauge_checked_on=checked), on)


@pytest.mark.parametrize("error_psi", [2.01, -2.01, 5.0])
def test_a_gauge_off_by_more_than_two_pounds_is_out_of_service(error_psi: float) -> None:
    """Replace when off by more than 2 lb: Iowa State Univ. Extension (2024); Univ. of Missouri Extension."""
    canner = replace(DIAL, gauge_error_psi=error_psi)

    with pytest.raises(CannerOutOfService, match="off by"):
        check_gauge(canner, CHECKED)
    with pytest.raises(CannerOutOfService, match="off by"):
        target_reading_psi(canner, 11)


@pytest.mark.parametrize("error_psi", [2.0, -2.0])
def test_a_gauge_off_by_two_pounds_is_still_corrected(error_psi: float) -> None:
    check_gauge(replace(DIAL, gauge_error_psi=error_psi), CHECKED)


@pytest.mark.parametrize("canner", [WEIGHTED, BOILING_WATER, STEAM])
def test_only_dial_gauges_need_a_check(canner: Canner) -> None:
    """A weighted gauge needs no accuracy test: Univ. of Missouri Extension, Pressure canning FAQs."""
    check_gauge(canner, date(2040, 1, 1))


@pytest.mark.parametrize(
    ("error_psi", "reading_psi"),
    [(0.0, 11.0), (0.5, 11.5), (1.0, 12.0), (2.0, 13.0), (-0.5, 11.0), (-1.0, 11.0), (-2.0, 11.0)],
)
def test_a_dial_that_reads_high_is_run_higher_and_one_that_reads_low_never_lower(
    error_psi: float, reading_psi: float
) -> None:
    """Reads 1 lb high: run 1 lb higher. USDA, Home Canning of Meat and Poultry. Never downward: rule S8."""
    assert target_reading_psi(replace(DIAL, gauge_error_psi=error_psi), 11) == reading_psi


@given(error_psi=st.floats(-2, 2), pressure_psi=st.integers(5, 15))
def test_the_true_pressure_at_the_target_reading_is_never_below_the_process(
    error_psi: float, pressure_psi: int
) -> None:
    reading_psi = target_reading_psi(replace(DIAL, gauge_error_psi=error_psi), pressure_psi)

    assert reading_psi >= pressure_psi
    assert reading_psi - error_psi >= pressure_psi - 1e-9


@pytest.mark.parametrize("pressure_psi", [5, 10, 15])
def test_a_weight_holds_its_own_pressure(pressure_psi: int) -> None:
    assert target_reading_psi(WEIGHTED, pressure_psi) == pressure_psi


@pytest.mark.parametrize(("canner", "pressure_psi"), [(WEIGHTED, 11), (BOILING_WATER, 10), (STEAM, 5)])
def test_a_pressure_the_canner_cannot_hold_is_refused(canner: Canner, pressure_psi: int) -> None:
    with pytest.raises(CannerOutOfService, match="cannot hold"):
        target_reading_psi(canner, pressure_psi)
