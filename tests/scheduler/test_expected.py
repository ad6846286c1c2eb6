"""What people see of a canner's expected minutes, and the reason beside them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.canner import Canner
from scheduler.expected import Expected, compared_jar, expected_phases
from scheduler.heat import plan_cool_down, plan_heat_up, plan_pressure_up
from scheduler.jars import JarSize, Pack
from scheduler.learning import Measured
from scheduler.pace import Pace
from tests.factories.canners import BOILING_WATER, DIAL, GAS, STEAM, WEIGHTED

QUART = JarSize.QUART
LEARNED = Pace(heat_up=1.3, pressure_up=1.4, cool_down=1.6)


def expected(canner: Canner, setting: int = 40) -> dict[Measured, Expected]:
    return {one.kind: one for one in expected_phases(canner, GAS, setting)}


@pytest.mark.parametrize(("canner", "psi"), [(DIAL, 11), (WEIGHTED, 10)])
def test_the_expected_minutes_are_those_that_a_plan_gives(canner: Canner, psi: float) -> None:
    learned = replace(canner, pace=LEARNED)
    found = expected(learned)
    assert list(found) == [Measured.HEAT_UP, Measured.PRESSURE_UP, Measured.COOL_DOWN]
    for one, minutes in ((canner, "usual_minutes"), (learned, "planned_minutes")):
        heat_up = plan_heat_up(one, GAS, (QUART,), Pack.RAW, 25).minutes
        pressure_up = plan_pressure_up(one, GAS, (QUART,), psi, 25).minutes
        assert getattr(found[Measured.HEAT_UP], minutes) == heat_up
        assert getattr(found[Measured.PRESSURE_UP], minutes) == pressure_up
    assert found[Measured.COOL_DOWN].planned_minutes == plan_cool_down(learned, (QUART,), psi, 25, 40)
    assert found[Measured.COOL_DOWN].remark == "never below 20 min (rule S5)"


@pytest.mark.parametrize("canner", [BOILING_WATER, STEAM])
def test_without_pressure_only_the_heat_up_is_expected(canner: Canner) -> None:
    assert list(expected(canner)) == [Measured.HEAT_UP]


def test_a_held_cool_down_says_by_what() -> None:
    """The estimate for this canner is 32 min (test_heat)."""
    quick = replace(DIAL, pace=Pace(cool_down=0.5))
    held = expected(quick)[Measured.COOL_DOWN]
    assert (held.usual_minutes, held.planned_minutes) == (32, 40)
    assert held.remark.startswith("would be 16 min, held at the kitchen's own setting")
    assert "never below 20 min" in held.remark
    least = expected(quick, 20)[Measured.COOL_DOWN]
    assert (least.planned_minutes, least.remark) == (
        20,
        "would be 16 min, held at the least that rule S5 allows",
    )
    heavy = expected(replace(quick, heavy_walled=True))[Measured.COOL_DOWN]
    assert (heavy.usual_minutes, heavy.planned_minutes) == (45, 45)
    assert "held at the least" in heavy.remark


def test_minutes_entered_by_hand_are_said_to_be() -> None:
    canner = replace(
        DIAL,
        pace=LEARNED,
        own_heat_up_minutes=9,
        own_pressure_up_minutes=2,
        own_cool_down_minutes={QUART: 26},
    )
    found = expected(canner)
    assert [one.planned_minutes for one in found.values()] == [9, 2, 26]
    assert all("entered by hand" in one.remark for one in found.values())
    assert found[Measured.HEAT_UP].usual_minutes >= 12


def test_the_compared_jar_is_the_largest_that_fits() -> None:
    assert compared_jar(DIAL) is JarSize.QUART
    assert compared_jar(replace(DIAL, inside_depth_in=6.0)) is JarSize.PINT
    assert compared_jar(replace(DIAL, inside_depth_in=4.6)) is JarSize.HALF_PINT
    assert compared_jar(replace(DIAL, inside_depth_in=2.0)) is JarSize.HALF_PINT
