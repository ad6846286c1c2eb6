"""How long a canner takes to heat up, to come to pressure and to cool down (rules S4, S5).

A lumped heat balance: one temperature for water, pot and glass, and a share of it for the food. It is an
estimate to plan with, never a reason to start a clock: the operator starts the process when steam, gauge or
boil says so.

Planned minutes are the estimate, never below the published range. When a burner is so weak that the estimate
lies above the range, the estimate stands and comes with a warning. What a kitchen's records taught (``pace``)
multiplies the estimate, and may go below the published range, which is no safety minimum; the cool-down is
held to rule S5 whatever was learned. Minutes that the kitchen entered itself replace all of it.

A full canner is assumed, whatever the load: a part load is filled up with jars of water (rule S13), so its
water, glass and contents are those of a full canner, and a plan that later adds a jar keeps its times.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from scheduler import packing, rack
from scheduler.canner import Burner, Canner, least_cool_down_minutes
from scheduler.canner_kind import CannerKind
from scheduler.jars import SHAPES, JarSize, Pack
from scheduler.pace import paced_minutes

# Specific heats in kJ/kg K. Water 4.19; foods 3.6 to 4.0: Earle, Unit Operations in Food Processing, App. 7,
# and Geankoplis, Transport Processes, App. A.4. Glass 0.80 to 0.84, aluminium 0.90 to 0.95, steel 0.50: an
# engineering table (weak).
WATER_KJ_PER_KG_K = 4.19
FOOD_KJ_PER_KG_K = 3.9
GLASS_KJ_PER_KG_K = 0.84
ALUMINIUM_KJ_PER_KG_K = 0.92
STEEL_KJ_PER_KG_K = 0.50

# What a jar holds below its headspace, in kg a quart: 0.946 l, 95 % filled, about as dense as water. Common
# practice, no source.
FILL_KG_PER_QT = 0.90
# Litres of a jar's outside for each quart inside and each kg of glass (glass weighs 2.5 kg a litre). Standard
# figures.
LITRES_PER_QT = 0.946
LITRES_PER_KG_GLASS = 0.4
LITRES_PER_CUBIC_IN = 0.016387

# Water and contents when the jars go in: 140 F for raw pack, 180 F for hot pack. NCHFP, Using Boiling Water
# Canners; for pressure canners the guide says "hot" and "near boiling", for which the same figures are taken.
START_C: dict[Pack, float] = {Pack.RAW: 60.0, Pack.HOT: 82.0}
BOILING_C = 100.0
ROOM_C = 20.0
ATMOSPHERE_PSI = 14.696

# Water in a canner of the usual 12.25 in diameter: 2 to 3 in for a pressure canner, USDA AIB 539 (1994),
# Recommended Canners; the base of a steam canner, common practice, no source. A boiling-water canner's water
# follows from its size and its jars.
PRESSURE_WATER_L = 2.8
STEAM_WATER_L = 2.5
_USUAL_DIAMETER_IN = 12.25

# The share of a temperature rise that the food has made when the medium around the jars has made all of it.
# Free parameters: no measured curve was found. Chosen so that full canners of 7 quarts and of 9 to 20 pints
# on 12,000 BTU/h of gas at 40 % come out within the published ranges below. The last rise is short, so the
# food lags more. Plausible, not validated.
FOOD_SHARE_TO_BOIL = 0.5
FOOD_SHARE_TO_STEAM = 0.3
FOOD_SHARE_TO_PRESSURE = 0.1
# Heat lost by lid and wall while cooling, W per square metre and K. A free parameter: the slow end of the 4
# to 8 W/K assumed for a 22 qt canner, which puts full canners within the published 20 to 60 minutes.
LOSS_W_PER_M2_K = 12.0
_M2_PER_SQUARE_IN = 0.00064516

# Antoine's equation for steam over water, 99 to 374 C, mmHg and C. Standard constants.
_ANTOINE = (8.14019, 1810.94, 244.485)
_MMHG_PER_PSI = 51.7149


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedRange:
    """Minutes as published, both ends included, with where."""

    least: int
    most: int
    source: str


PRESSURE_HEAT_UP = PublishedRange(
    least=12, most=15, source="USDA AIB 539 (1994), Recommended Canners; MSU Extension 01600948 (1998)"
)
PRESSURE_UP = PublishedRange(
    least=3, most=5, source="USDA AIB 539 (1994), Recommended Canners; MSU Extension 01600949 (1997)"
)
_PRESSURE_UP_PSI = 11.0
BOILING_WATER_HEAT_UP = PublishedRange(
    least=20, most=30, source="USDA AIB 539 (1994), Recommended Canners; MSU Extension 01600948 (1998)"
)
STEAM_HEAT_UP = PublishedRange(
    least=11, most=17, source="IAFP 2013, paper 4056: 10.3 to 16.2 min, here in whole minutes"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedMinutes:
    """Whole minutes to plan with, and a warning when they lie above the published range."""

    minutes: int
    warning: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatCapacity:
    """The heat a loaded canner takes up, in kJ/K.

    ``medium`` is water, pot and glass, ``food`` the jars' contents.
    """

    medium: float
    food: float

    @property
    def total(self) -> float:
        """All of it."""
        return self.medium + self.food


def plan_heat_up(
    canner: Canner, burner: Burner, jars: Collection[JarSize], pack: Pack, process_minutes: int
) -> PlannedMinutes:
    """From loaded to steady steam or a full boil, with a full canner of the slowest of these jar sizes."""
    if canner.own_heat_up_minutes is not None:
        return PlannedMinutes(minutes=canner.own_heat_up_minutes)
    return _planned(
        usual_heat_up(canner, burner, jars, pack, process_minutes),
        canner.pace.heat_up,
        _heat_up_range(canner),
        f"{canner.name} on {burner.name}: heat-up",
    )


def plan_pressure_up(
    canner: Canner, burner: Burner, jars: Collection[JarSize], pressure_psi: float, process_minutes: int
) -> PlannedMinutes:
    """From the end of venting to pressure, with a full canner of the slowest of these jar sizes."""
    if canner.own_pressure_up_minutes is not None:
        return PlannedMinutes(minutes=canner.own_pressure_up_minutes)
    return _planned(
        usual_pressure_up(canner, burner, jars, pressure_psi, process_minutes),
        canner.pace.pressure_up,
        _pressure_up_range(pressure_psi),
        f"{canner.name} on {burner.name}: coming to pressure",
    )


def plan_cool_down(
    canner: Canner, jars: Collection[JarSize], pressure_psi: float, process_minutes: int, setting_minutes: int
) -> int:
    """From heat off to zero pressure (rule S5): the longest that any of these jar sizes asks for.

    The kitchen's own measured time comes first; then what its records taught of the usual time, a light
    canner never below the kitchen's setting. Never below what ``least_cool_down_minutes`` allows.
    """
    return max(_cool_down(canner, jar, pressure_psi, process_minutes, setting_minutes) for jar in jars)


def usual_heat_up(
    canner: Canner, burner: Burner, jars: Collection[JarSize], pack: Pack, process_minutes: int
) -> float:
    """Minutes of heat-up before anything is learned: the estimate, never below the published range."""
    full_canners = _full_canners(canner, jars, process_minutes)
    estimate = max(estimate_heat_up(canner, burner, full, pack) for full in full_canners)
    return max(_heat_up_range(canner).least, estimate)


def usual_pressure_up(
    canner: Canner, burner: Burner, jars: Collection[JarSize], pressure_psi: float, process_minutes: int
) -> float:
    """Minutes of coming to pressure before anything is learned: the estimate, never below the range."""
    full_canners = _full_canners(canner, jars, process_minutes)
    estimate = max(estimate_pressure_up(canner, burner, full, pressure_psi) for full in full_canners)
    return max(PRESSURE_UP.least, estimate)


def usual_cool_down(canner: Canner, jar: JarSize, pressure_psi: float, process_minutes: int) -> float:
    """Minutes of natural cooling before anything is learned: published for a heavy wall, else the estimate."""
    least = least_cool_down_minutes(canner, jar)
    if canner.heavy_walled:
        return least
    full = _full_canners(canner, (jar,), process_minutes)[0]
    return max(least, estimate_cool_down(canner, full, pressure_psi))


def estimate_heat_up(canner: Canner, burner: Burner, jars: Mapping[JarSize, int], pack: Pack) -> float:
    """Minutes from loaded to boiling, with exactly these jars in it."""
    share = FOOD_SHARE_TO_STEAM if canner.kind.is_pressure else FOOD_SHARE_TO_BOIL
    return _heating_minutes(heat_capacity(canner, jars), share, BOILING_C - START_C[pack], burner)


def estimate_pressure_up(
    canner: Canner, burner: Burner, jars: Mapping[JarSize, int], pressure_psi: float
) -> float:
    """Minutes from boiling to the temperature of steam at ``pressure_psi``, with exactly these jars in it."""
    rise_k = steam_c(pressure_psi) - BOILING_C
    return _heating_minutes(heat_capacity(canner, jars), FOOD_SHARE_TO_PRESSURE, rise_k, burner)


def estimate_cool_down(canner: Canner, jars: Mapping[JarSize, int], pressure_psi: float) -> float:
    """Minutes from ``pressure_psi`` to zero by Newton's law of cooling, with exactly these jars in it."""
    diameter_in, depth_in = canner.inside_diameter_in, canner.inside_depth_in
    surface_in2 = math.pi * diameter_in * (diameter_in / 4 + depth_in)
    loss_kw_per_k = LOSS_W_PER_M2_K * surface_in2 * _M2_PER_SQUARE_IN / 1000
    hotter = (steam_c(pressure_psi) - ROOM_C) / (BOILING_C - ROOM_C)
    return heat_capacity(canner, jars).total / loss_kw_per_k * math.log(hotter) / 60


def heat_capacity(canner: Canner, jars: Mapping[JarSize, int]) -> HeatCapacity:
    """What these jars, the canner's water and the canner itself take up."""
    metal = STEEL_KJ_PER_KG_K if canner.kind is CannerKind.BOILING_WATER else ALUMINIUM_KJ_PER_KG_K
    glass_kg = sum(count * SHAPES[jar].glass_kg for jar, count in jars.items())
    food_kg = sum(count * SHAPES[jar].volume_qt * FILL_KG_PER_QT for jar, count in jars.items())
    water_l = canner.water_l if canner.water_l is not None else usual_water_l(canner, jars)
    return HeatCapacity(
        medium=water_l * WATER_KJ_PER_KG_K + canner.pot_mass_kg * metal + glass_kg * GLASS_KJ_PER_KG_K,
        food=food_kg * FOOD_KJ_PER_KG_K,
    )


def usual_water_l(canner: Canner, jars: Mapping[JarSize, int]) -> float:
    """The water a canner is usually heated with.

    By the canner's area; in a boiling-water canner what stands round the jars and 2 in over them, the more of
    the two published depths, so that the estimate errs to the long side.
    """
    if canner.kind is not CannerKind.BOILING_WATER:
        usual = STEAM_WATER_L if canner.kind is CannerKind.STEAM else PRESSURE_WATER_L
        return usual * (canner.inside_diameter_in / _USUAL_DIAMETER_IN) ** 2
    area_in2 = math.pi / 4 * canner.inside_diameter_in**2
    jars_l = sum(
        count * (SHAPES[jar].volume_qt * LITRES_PER_QT + SHAPES[jar].glass_kg * LITRES_PER_KG_GLASS)
        for jar, count in jars.items()
    )
    return max(0.0, area_in2 * _water_line_in(canner, jars) * LITRES_PER_CUBIC_IN - jars_l)


def steam_c(pressure_psi: float) -> float:
    """The temperature of saturated steam at a gauge pressure, at sea level.

    At altitude the tables raise the gauge pressure to reach the same temperature, so this reads a little high
    there, and the estimates come out a little long.
    """
    a, b, c = _ANTOINE
    return b / (a - math.log10((pressure_psi + ATMOSPHERE_PSI) * _MMHG_PER_PSI)) - c


def _water_line_in(canner: Canner, jars: Mapping[JarSize, int]) -> float:
    rack_in = canner.inside_diameter_in - rack.RACK_CLEARANCE_IN
    racks = sum(
        count / max(1, packing.most_equal(rack_in, SHAPES[jar].diameter_in)) for jar, count in jars.items()
    )
    layers = min(canner.layers, max(1, math.ceil(racks - 1e-9)))
    tallest_in = max((SHAPES[jar].height_in for jar in jars), default=0.0)
    line_in = layers * (tallest_in + rack.RACK_HEIGHT_IN) + rack.DEEP_WATER_OVER_JARS_IN
    return min(canner.inside_depth_in, line_in)


def _heating_minutes(capacity: HeatCapacity, food_share: float, rise_k: float, burner: Burner) -> float:
    needed_kj = (capacity.medium + food_share * capacity.food) * rise_k
    return needed_kj / (burner.power_w / 1000 * burner.efficiency) / 60


def _full_canners(
    canner: Canner, jars: Collection[JarSize], process_minutes: int
) -> list[Mapping[JarSize, int]]:
    return [
        {jar: max(1, rack.capacity(canner, jar, process_minutes=process_minutes))}
        for jar in sorted(set(jars))
    ]


def _pressure_up_range(pressure_psi: float) -> PublishedRange:
    """Published for about 11 lb; for more pressure the upper end grows with the temperature rise."""
    share = (steam_c(pressure_psi) - BOILING_C) / (steam_c(_PRESSURE_UP_PSI) - BOILING_C)
    return replace(PRESSURE_UP, most=max(PRESSURE_UP.most, math.ceil(PRESSURE_UP.most * share)))


def _heat_up_range(canner: Canner) -> PublishedRange:
    published = {CannerKind.BOILING_WATER: BOILING_WATER_HEAT_UP, CannerKind.STEAM: STEAM_HEAT_UP}
    return published.get(canner.kind, PRESSURE_HEAT_UP)


def _planned(usual: float, pace: float, published: PublishedRange, what: str) -> PlannedMinutes:
    minutes = paced_minutes(usual, pace)
    if minutes <= published.most:
        return PlannedMinutes(minutes=minutes)
    known_from = "is estimated at" if pace == 1 else "takes, by this kitchen's records,"
    return PlannedMinutes(
        minutes=minutes,
        warning=f"{what} {known_from} {minutes} min, above the published "
        f"{published.least} to {published.most}. Use a stronger burner, or enter the kitchen's own time.",
    )


def _cool_down(
    canner: Canner, jar: JarSize, pressure_psi: float, process_minutes: int, setting_minutes: int
) -> int:
    least = least_cool_down_minutes(canner, jar)
    own = canner.own_cool_down_minutes.get(jar)
    if own is not None:
        return max(least, own)
    usual = usual_cool_down(canner, jar, pressure_psi, process_minutes)
    learned = paced_minutes(usual, canner.pace.cool_down)
    return max(least, learned) if canner.heavy_walled else max(least, setting_minutes, learned)
