"""Canners and the burners under them, and what a dial gauge may still be trusted with (rule S8).

Values only: how jars stand in a canner is ``rack``, how it heats is ``heat``, how long a load takes is
``cycle``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from scheduler import packing
from scheduler.canner_kind import CannerKind
from scheduler.errors import BadDay, CannerOutOfService
from scheduler.interval import Span
from scheduler.jars import SHAPES, JarSize
from scheduler.pace import Pace

# Rule S8, two figures. "Off by more than 2 lb: replace": Iowa State Univ. Extension, Time to Test Gauges
# (2024); Univ. of Missouri Extension, Pressure canning FAQs. One page that cites USDA says 1 lb; between the
# two the reading is corrected.
MOST_GAUGE_ERROR_PSI = 2.0
# The only pressures a weighted gauge can hold. Univ. of Missouri Extension, Pressure canning FAQs.
WEIGHTS_PSI = (5.0, 10.0, 15.0)

# Rule S5. Heavy-walled: USDA AIB 539 (1994), Recommended Canners, and PNW 421. Others: the lower end of the
# 20 to 60 minutes AIB 539 gives for planning; the kitchen's own setting is longer by default.
LEAST_COOL_DOWN_MINUTES = 20
HEAVY_WALLED_PINT_COOL_DOWN_MINUTES = 30
HEAVY_WALLED_QUART_COOL_DOWN_MINUTES = 45

# Share of a burner's power that reaches the pot. DOE-derived figures, as cited in a glass maker's cooktop
# test (2015): gas 40 to 44 %, electric 74 to 80 %, induction 84 %. The low end of each is taken, so that no
# load is planned too short.
GAS_EFFICIENCY = 0.40
ELECTRIC_EFFICIENCY = 0.74
INDUCTION_EFFICIENCY = 0.84
# The most that is allowed under a thin-walled canner: 12,000 BTU/h. NCHFP, Burning Issue: Canning on Portable
# Burners.
GAS_CEILING_W = 3517

# Rule S13: a second layer stands on a rack between. More than two layers are published nowhere.
MOST_LAYERS = 2

# Aluminium pressure canner with its lid and racks, enamelled steel boiling-water pot, aluminium steam canner.
# Common practice, no source: a kitchen should weigh its own.
_EMPTY_MASS_KG: dict[CannerKind, float] = {
    CannerKind.DIAL: 3.0,
    CannerKind.WEIGHTED: 3.0,
    CannerKind.BOILING_WATER: 3.0,
    CannerKind.STEAM: 2.0,
}
# Jar charts disagree by up to 0.4 in (see ``jars``): a kitchen's jars may be so much narrower or lower than
# the chart's.
_CHART_SPREAD_IN = 0.4

_QUART_LIKE = frozenset({JarSize.PINT_AND_HALF, JarSize.QUART, JarSize.HALF_GALLON})


@dataclass(frozen=True, slots=True, kw_only=True)
class Burner:
    """A source of heat. ``power_w`` is what it takes in, ``efficiency`` the share of it that reaches the pot.

    The default efficiency is that of gas, the lowest published: an unknown burner is planned as a slow one.
    See the named efficiencies above for electric and induction. Refused: a power outside 200 to 30,000 W, an
    efficiency outside (0, 1].
    """

    id: str
    name: str
    power_w: int
    efficiency: float = GAS_EFFICIENCY

    def __post_init__(self) -> None:
        if not 200 <= self.power_w <= 30_000:
            raise BadDay(
                f"Burner {self.name} is given {self.power_w} W.",
                remedy="Give its power in watts, from 200 to 30,000; 12,000 BTU/h are 3,517 W.",
            )
        if not 0.0 < self.efficiency <= 1.0:
            raise BadDay(
                f"Burner {self.name} is given an efficiency of {self.efficiency}.",
                remedy="Give a share above 0 and up to 1: about 0.40 for gas, 0.74 electric, 0.84 induction.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Canner:
    """A vessel, as this kitchen owns it.

    ``inside_diameter_in`` and ``inside_depth_in`` are measured empty, the depth from the floor to the rim.
    ``layers`` is 2 only for a canner marked for two (rule S13). ``own_counts`` is the kitchen's own count of
    one size in a FULL canner, all layers together; it overrides the geometry. ``service`` holds the minutes
    in which the canner may be used: an empty tuple means never. ``gauge_error_psi`` is the reading minus the
    true pressure, as found at the check on ``gauge_checked_on``; both belong to dial gauges only. ``water_l``
    is the water it is heated with, ``None`` for the usual amount of its kind; ``empty_mass_kg`` likewise. The
    ``own_`` minutes are the kitchen's measured times and override an estimate; an own cool-down is refused
    below the least that rule S5 allows. ``pace`` is what the kitchen's records taught; ``own_`` minutes go
    before it.
    """

    id: str
    name: str
    kind: CannerKind
    inside_diameter_in: float
    inside_depth_in: float
    burner_id: str
    service: tuple[Span, ...]
    layers: int = 1
    own_counts: Mapping[JarSize, int] = field(default_factory=dict, hash=False)
    heavy_walled: bool = False
    gauge_checked_on: date | None = None
    gauge_error_psi: float = 0.0
    water_l: float | None = None
    empty_mass_kg: float | None = None
    own_heat_up_minutes: int | None = None
    own_pressure_up_minutes: int | None = None
    own_cool_down_minutes: Mapping[JarSize, int] = field(default_factory=dict, hash=False)
    pace: Pace = field(default_factory=Pace)

    def __post_init__(self) -> None:
        # Copies, so that no later change of the caller's mapping reaches a canner that is already checked.
        object.__setattr__(self, "own_counts", dict(self.own_counts))
        object.__setattr__(self, "own_cool_down_minutes", dict(self.own_cool_down_minutes))
        _check_sizes(self)
        _check_gauge_fields(self)
        _check_own_minutes(self)
        _check_own_counts(self)

    @property
    def pot_mass_kg(self) -> float:
        """The empty mass used for planning: the kitchen's own, else the usual one of the kind."""
        return self.empty_mass_kg if self.empty_mass_kg is not None else _EMPTY_MASS_KG[self.kind]


def check_gauge(canner: Canner, on: date, *, until: date | None = None) -> None:
    """Rule S8: raise :class:`CannerOutOfService` unless the gauge may be trusted on ``on``, and up to ``until``.

    A dial gauge must have been checked on or before ``on`` and not more than one year before it (the
    anniversary still counts; a check on 29 February lasts to 28 February), and must not be off by more than 2
    lb either way. Weighted gauges need no check. Source: Iowa State Univ. Extension, Time to Test Gauges
    (2024).
    """
    if canner.kind is not CannerKind.DIAL:
        return
    remedy = "Have the dial gauge checked and record the date and the error, or replace it."
    checked = canner.gauge_checked_on
    if checked is None:
        raise CannerOutOfService(f"The dial gauge of {canner.name} has no recorded check.", remedy=remedy)
    if checked > on:
        raise CannerOutOfService(
            f"The dial gauge of {canner.name} has a check dated {checked:%-d %B %Y}, after {on:%-d %B %Y}.",
            remedy=remedy,
        )
    last = until or on
    if last > a_year_after(checked):
        raise CannerOutOfService(
            f"The dial gauge of {canner.name} was last checked on {checked:%-d %B %Y}, "
            f"more than a year before {last:%-d %B %Y}.",
            remedy=remedy,
        )
    if _too_far_off(canner):
        raise CannerOutOfService(
            f"The dial gauge of {canner.name} is off by {canner.gauge_error_psi:+g} lb; "
            f"more than {MOST_GAUGE_ERROR_PSI:g} lb is not correctable.",
            remedy="Replace the gauge.",
        )


def target_reading_psi(canner: Canner, pressure_psi: float) -> float:
    """What the gauge must show for a true ``pressure_psi`` (rule S8).

    A dial that reads high by e is run e higher: at 11 lb of process and 1.5 lb high, at 12.5. Errors below 1
    lb, which the rule leaves open, are corrected too: a missing half pound costs sterilising value and adding
    it costs none. A dial that reads low is never a reason to read below the process pressure, so it is run at
    the process pressure and the jars get a little more. A weighted gauge has nothing to correct, and can only
    hold 5, 10 or 15 lb. Refused: a canner without pressure, a weight that does not exist, a dial off by more
    than 2 lb.
    """
    if not canner.kind.is_pressure:
        raise CannerOutOfService(
            f"{canner.name} is no pressure canner; it cannot hold {pressure_psi:g} lb.",
            remedy="Choose a pressure canner.",
        )
    if canner.kind is CannerKind.WEIGHTED:
        if pressure_psi not in WEIGHTS_PSI:
            raise CannerOutOfService(
                f"The weighted gauge of {canner.name} cannot hold {pressure_psi:g} lb.",
                remedy="Use the process printed for a weighted gauge: 5, 10 or 15 lb.",
            )
        return pressure_psi
    if _too_far_off(canner):
        raise CannerOutOfService(
            f"The dial gauge of {canner.name} is off by {canner.gauge_error_psi:+g} lb.",
            remedy="Replace the gauge.",
        )
    return pressure_psi + max(0.0, canner.gauge_error_psi)


def least_cool_down_minutes(canner: Canner, jar: JarSize) -> int:
    """The shortest cool-down rule S5 allows for this canner with this jar, whatever was measured."""
    if not canner.heavy_walled:
        return LEAST_COOL_DOWN_MINUTES
    return HEAVY_WALLED_QUART_COOL_DOWN_MINUTES if jar in _QUART_LIKE else HEAVY_WALLED_PINT_COOL_DOWN_MINUTES


def _too_far_off(canner: Canner) -> bool:
    return abs(canner.gauge_error_psi) > MOST_GAUGE_ERROR_PSI


def a_year_after(checked: date) -> date:
    """The last day on which a dial gauge that was checked on this day may be used (rule S8)."""
    if (checked.month, checked.day) == (2, 29):
        return date(checked.year + 1, 2, 28)
    return checked.replace(year=checked.year + 1)


def _check_sizes(canner: Canner) -> None:
    measures = (
        ("inside diameter", canner.inside_diameter_in, 4.0, 40.0, "in"),
        ("inside depth", canner.inside_depth_in, 2.0, 40.0, "in"),
        ("water", canner.water_l, 0.5, 150.0, "l"),
        ("empty mass", canner.empty_mass_kg, 0.5, 100.0, "kg"),
    )
    for what, value, least, most, unit in measures:
        if value is not None and not least <= value <= most:
            raise BadDay(
                f"{canner.name} is given as {what} {value} {unit}.",
                remedy=f"Measure it: {least:g} to {most:g} {unit}.",
            )
    if not 1 <= canner.layers <= MOST_LAYERS:
        raise BadDay(
            f"{canner.name} is given {canner.layers} layers.",
            remedy=f"A canner holds 1 layer of jars, or {MOST_LAYERS} when it is marked for it (rule S13).",
        )


def _check_gauge_fields(canner: Canner) -> None:
    if not math.isfinite(canner.gauge_error_psi):
        raise BadDay(
            f"The gauge error of {canner.name} is no number.",
            remedy="Give the reading minus the true pressure, in lb.",
        )
    if canner.kind is not CannerKind.DIAL and (
        canner.gauge_checked_on is not None or canner.gauge_error_psi != 0.0
    ):
        raise BadDay(
            f"{canner.name} is no dial-gauge canner, yet it has a gauge check.",
            remedy="Leave the check out, or correct the kind of the canner.",
        )
    if canner.heavy_walled and not canner.kind.is_pressure:
        raise BadDay(
            f"{canner.name} is no pressure canner, yet it is marked heavy-walled.",
            remedy="Leave the mark out.",
        )


def _check_own_minutes(canner: Canner) -> None:
    for what, minutes in (
        ("heat-up", canner.own_heat_up_minutes),
        ("pressure-up", canner.own_pressure_up_minutes),
    ):
        if minutes is not None and not 1 <= minutes <= 240:
            raise BadDay(
                f"{canner.name} is given {minutes} minutes of {what}.",
                remedy="Give 1 to 240 minutes, as measured.",
            )
    if not canner.kind.is_pressure and (
        canner.own_pressure_up_minutes is not None or canner.own_cool_down_minutes
    ):
        raise BadDay(
            f"{canner.name} is no pressure canner, yet it has a pressure-up or a cool-down.",
            remedy="Leave these times out.",
        )
    if not canner.kind.is_pressure and canner.pace != Pace(heat_up=canner.pace.heat_up):
        raise BadDay(
            f"{canner.name} is no pressure canner, yet it has a pace of coming to pressure or cooling down.",
            remedy="Leave these two out.",
        )
    for jar, minutes in canner.own_cool_down_minutes.items():
        least = least_cool_down_minutes(canner, jar)
        if not least <= minutes <= 240:
            raise BadDay(
                f"{canner.name} is given {minutes} minutes to cool down with {jar.words} jars.",
                remedy=f"Rule S5 allows no less than {least} and no figure above 240 minutes.",
            )


def _check_own_counts(canner: Canner) -> None:
    for jar, count in canner.own_counts.items():
        most = _most_believable(canner, jar)
        if not 1 <= count <= most:
            raise BadDay(
                f"{canner.name} is said to hold {count} {jar.words} jars.",
                remedy=f"By its measures and {canner.layers} marked layer(s) it holds at most {most}; "
                "count again, or mark it for two layers if its maker does (rule S13).",
            )


def _most_believable(canner: Canner, jar: JarSize) -> int:
    """The most a kitchen may say it counted: jars as narrow and as low as any chart has them."""
    shape = SHAPES[jar]
    across = packing.most_equal(canner.inside_diameter_in, shape.diameter_in - _CHART_SPREAD_IN)
    high = int(canner.inside_depth_in / (shape.height_in - _CHART_SPREAD_IN))
    return across * min(canner.layers, high)
