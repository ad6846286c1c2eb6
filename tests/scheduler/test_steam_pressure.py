"""Why the dial pressures rise with altitude: an outside check of every dial row against steam itself.

A gauge shows pressure above the air's, and the air thins with altitude. At the top of each band the printed
pressure must give steam as hot as the line's first band gives at its own top, within 1 F and never cooler.

Sources: printed pressures, USDA AIB 539; air pressure, U.S. Standard Atmosphere 1976 (layer 0, to 36,089 ft);
saturation temperature, IAPWS-IF97.
"""

from __future__ import annotations

import math

import pytest
from iapws import IAPWS97

from tests.scheduler.printed_tables import Printed, family, rows, upper_ft

TOLERANCE_F = 1.0
MPA_PER_PSI = 0.00689475729
M_PER_FT = 0.3048


def air_mpa(altitude_ft: float) -> float:
    """U.S. Standard Atmosphere 1976: 288.15 K and 101,325 Pa at sea level, 6.5 K less each km."""
    return 0.101325 * math.pow(1 - 0.0065 * altitude_ft * M_PER_FT / 288.15, 5.25588)


def steam_f(gauge_psi: float, altitude_ft: float) -> float:
    """Temperature of saturated steam at this gauge pressure and altitude, in degrees F."""
    kelvin: float = IAPWS97(P=gauge_psi * MPA_PER_PSI + air_mpa(altitude_ft), x=1).T
    return kelvin * 9 / 5 - 459.67


def dial_lines() -> dict[tuple[str, ...], list[Printed]]:
    """The bands of each dial line, lowest first. A line is told by its minutes: they do not change with altitude."""
    lines: dict[tuple[str, ...], list[Printed]] = {}
    for row in rows("processes"):
        if row["method"] == "pressure_dial":
            lines.setdefault((*family(row), row["process_minutes"]), []).append(row)
    return {key: sorted(bands, key=upper_ft) for key, bands in lines.items()}


LINES = dial_lines()


def test_the_check_covers_every_dial_row() -> None:
    assert sum(map(len, LINES.values())) == 656
    assert {tuple(upper_ft(band) for band in bands) for bands in LINES.values()} == {(2000, 4000, 6000, 8000)}
    assert {bands[0]["pressure_psi"] for bands in LINES.values()} == {"6", "11"}


def test_the_formulas_give_published_points() -> None:
    """Near enough for published figures, which are rounded.

    240 F at 10.5 psig at sea level (Univ. of Wisconsin Extension B2593; half a pound of rounding is 0.7 F); boiling at
    212.0 F and, at 4,000 ft, at 204.9 F (AIB 539 altitude table).
    """
    assert steam_f(10.5, 0) == pytest.approx(240, abs=0.7)
    assert steam_f(0, 0) == pytest.approx(212.0, abs=0.1)
    assert steam_f(0, 4000) == pytest.approx(204.9, abs=0.4)


@pytest.mark.parametrize("bands", LINES.values(), ids=["-".join(key) for key in LINES])
def test_each_band_is_as_hot_as_the_first(bands: list[Printed]) -> None:
    first_f = steam_f(float(bands[0]["pressure_psi"]), upper_ft(bands[0]))
    for band in bands:
        excess_f = steam_f(float(band["pressure_psi"]), upper_ft(band)) - first_f
        assert 0 <= excess_f <= TOLERANCE_F, band


def test_one_pound_less_would_be_seen() -> None:
    """The check has teeth: every band above the first fails it when its pressure is a pound too low."""
    for bands in LINES.values():
        first_f = steam_f(float(bands[0]["pressure_psi"]), upper_ft(bands[0]))
        assert all(steam_f(float(band["pressure_psi"]) - 1, upper_ft(band)) < first_f for band in bands[1:])
