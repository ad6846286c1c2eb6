"""How many jars an amount of food makes, as the published range.

The guide prints, for many foods, quarts from a bushel or other container and pounds for a quart or a canner load.
The figures for one food do not always agree with each other, so a range over all of them is given: plan for its
upper end, correct when the kettle is done.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import cache

from scheduler.errors import BadAmount, NoPublishedYield
from scheduler.foods import Food, find_food, read_foods
from scheduler.jars import SHAPES, JarSize
from scheduler.tables import Row, Tables, packaged_tables


class Unit(StrEnum):
    """What a member counts in. A container is that of the guide; its weight is printed with the yield."""

    JARS = "jars"
    POUNDS = "pounds"
    BUSHEL = "bushel"
    LUG = "lug"
    CRATE = "crate"
    SACK = "sack"


@dataclass(frozen=True, slots=True, kw_only=True)
class JarRange:
    """From ``low`` to ``high`` whole jars; the upper end is planned.

    ``sources`` name the publications; empty when the member counted jars. ``notes`` are printed remarks such as
    "without tops".
    """

    low: int
    high: int
    sources: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def jars_from(food: str, amount: float, unit: Unit | str, jar: JarSize) -> JarRange:
    """Jars of this size that the amount makes: the lower end rounded down, the upper end rounded up.

    ``food`` is an id or a printed name. Jars other than those printed follow by volume.

    Refused with ``UnknownFood``; ``BadAmount`` for nothing, less than nothing or part of a jar; ``NoPublishedYield``
    for a unit that the guide gives no yield for, naming the units it does.
    """
    known = find_food(food)
    asked = _unit(known, unit)
    exact = _exact(amount)
    if asked is Unit.JARS:
        return _counted(exact)
    rates = _packaged().get(known.id, ())
    if not any(rate.unit is asked for rate in rates):
        raise _no_yield(known, asked)
    volume_qt = Fraction(str(SHAPES[jar].volume_qt))
    jars = [exact * rate.quarts / volume_qt for rate in rates if rate.unit is asked]
    return JarRange(
        low=math.floor(min(jars)),
        high=math.ceil(max(jars)),
        sources=tuple(dict.fromkeys(rate.source for rate in rates)),
        notes=tuple(dict.fromkeys(rate.note for rate in rates if rate.note)),
    )


def units_for(food: str) -> tuple[Unit, ...]:
    """The units a member may give this food in: always jars, then those with a published yield."""
    rates = _packaged().get(find_food(food).id, ())
    return tuple(unit for unit in Unit if unit is Unit.JARS or any(rate.unit is unit for rate in rates))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """One published figure: so many quarts from one of a unit."""

    unit: Unit
    quarts: Fraction
    source: str
    note: str


def read_rates(tables: Tables) -> Mapping[str, tuple[Rate, ...]]:
    """Every published figure of a set of tables, by food. ``TablesDamaged`` names the line that cannot be."""
    known = read_foods(tables)
    rates: dict[str, tuple[Rate, ...]] = {}
    for row in tables.yields:
        food_id = _FOOD_OF_VARIANT.get(row.text("food_id"), row.text("food_id"))
        if food_id in known:
            rates[food_id] = (*rates.get(food_id, ()), *_rates_of(row))
        elif food_id not in _WITHOUT_PROCESS:
            raise row.damaged(f"{food_id} is not among the foods")
    return rates


# The guide prints two yields for one process: thin and thick sauce (USDA AIB 539 Guide 3 p. 3-8).
_FOOD_OF_VARIANT: Mapping[str, str] = {
    "tomato_sauce_standard_thin": "tomato_sauce_standard",
    "tomato_sauce_standard_thick": "tomato_sauce_standard",
}

# A yield of raw cucumbers, printed for no one pickle: the packs differ, so no pickle borrows it.
_WITHOUT_PROCESS = frozenset({"cucumbers_pickling"})

# Published as ranges of pounds whose upper end stands in the table; the lower end makes the most jars.
# USDA AIB 539 Guide 2 p. 2-20: 17 to 19 pounds for 7 quarts, 11 to 13 for 9 pints.
_LEAST_POUNDS: Mapping[tuple[str, str], Fraction] = {
    ("pears_asian", "lb_per_load_7_quarts"): Fraction(17),
    ("pears_asian", "lb_per_load_9_pints"): Fraction(11),
}

_PINT_QT = Fraction(1, 2)
# Columns that give pounds for so many quarts.
_QUARTS_FOR_POUNDS: Mapping[str, Fraction] = {
    "lb_per_quart": Fraction(1),
    "lb_per_pint": _PINT_QT,
    "lb_per_load_7_quarts": Fraction(7),
    "lb_per_load_9_pints": 9 * _PINT_QT,
}
# Columns that give how many of a jar one container makes, and the jar's quarts.
_QUARTS_OF_CONTAINER: Mapping[str, Fraction] = {
    "quarts_low": Fraction(1),
    "quarts_high": Fraction(1),
    "pints_low": _PINT_QT,
    "pints_high": _PINT_QT,
}


@cache
def _packaged() -> Mapping[str, tuple[Rate, ...]]:
    return read_rates(packaged_tables())


def _unit(food: Food, unit: Unit | str) -> Unit:
    try:
        return Unit(unit)
    except ValueError:
        raise _no_yield(food, unit) from None


def _exact(amount: float) -> Fraction:
    """The amount as it was written: 0.1 is a tenth. Refused unless above zero."""
    written = Decimal(str(amount))
    if not written.is_finite() or written <= 0:
        raise BadAmount(f"The amount is {amount}.", remedy="Give a number above zero.")
    return Fraction(written)


def _counted(jars: Fraction) -> JarRange:
    if jars.denominator != 1:
        raise BadAmount(f"{float(jars):g} jars are not whole jars.", remedy="Give a whole number of jars.")
    return JarRange(low=int(jars), high=int(jars))


def _no_yield(food: Food, unit: Unit | str) -> NoPublishedYield:
    units = units_for(food.id)
    if len(units) == 1:
        return NoPublishedYield(
            f"No yield is published for {food.name}, so it cannot be counted in {unit}.",
            remedy="Give the number of jars.",
        )
    return NoPublishedYield(
        f"No yield is published for {food.name} by {unit}.", remedy=f"Give it in {', '.join(units)}."
    )


def _rates_of(row: Row) -> Iterator[Rate]:
    source, note = row.text("source"), row.cells.get("note", "")
    container = row.cells.get("container", "")
    weight_lb = row.number_or_none("weight_lb")
    for column, quarts in _QUARTS_OF_CONTAINER.items():
        count = row.number_or_none(column)
        if count is None:
            continue
        if not weight_lb:
            raise row.damaged("the container has no weight")
        makes = Fraction(count) * quarts
        yield Rate(unit=_container(row, container), quarts=makes, source=source, note=note)
        yield Rate(unit=Unit.POUNDS, quarts=makes / Fraction(weight_lb), source=source, note=note)
    for column, quarts in _QUARTS_FOR_POUNDS.items():
        pounds = row.number_or_none(column)
        if pounds is None:
            continue
        if not pounds:
            raise row.damaged(f"{column} is 0")
        yield Rate(unit=Unit.POUNDS, quarts=quarts / Fraction(pounds), source=source, note=note)
        least = _LEAST_POUNDS.get((row.text("food_id"), column))
        if least is not None:
            yield Rate(unit=Unit.POUNDS, quarts=quarts / least, source=source, note=note)


def _container(row: Row, name: str) -> Unit:
    try:
        return Unit(name)
    except ValueError:
        raise row.damaged(f"container is {name!r}") from None
