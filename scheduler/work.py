"""How long people take: prep, kettle and fill rates, until a kitchen has measured its own.

No time study was found for any of these. Each figure is common practice, no source, chosen on the slow side;
the whole was held against one published day: 3 people, 6 hours, 105 pints of applesauce, which is about 10
person-minutes a pint.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from scheduler.foods import find_food
from scheduler.jars import SHAPES, JarSize, Pack


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Prep in person-minutes a jar, and the cooking before a hot pack fill in minutes (0 for raw pack)."""

    prep_person_minutes_per_jar: float
    kettle_minutes: int


# Person-minutes of peeling, snapping, shelling and cutting for one quart. Common practice, no source: a
# bushel by hand in one to two hours for apples; 6 to 10 lb of beans an hour.
_PREP_PER_QUART_BY_GUIDE: dict[str, float] = {"2": 8.0, "3": 6.0, "4": 10.0, "5": 12.0, "6": 8.0, "7": 8.0}
_PREP_PER_QUART_OTHERWISE = 10.0

# Applesauce cooks 5 to 20 minutes until tender (AIB 539, Guide 2); beans boil 5 (Guide 4). One figure that
# covers heating a kettle and such a boil: common practice, no source.
_HOT_PACK_KETTLE_MINUTES = 25

# Jars filled by one person in an hour, with ladle and funnel: 40 to 60 quarts, 60 to 80 pints. Common
# practice, no source; the middle is taken, smaller jars as pints, half-gallons from memory.
_FILLED_PER_PERSON_HOUR: dict[JarSize, int] = {
    JarSize.QUARTER_PINT: 70,
    JarSize.HALF_PINT: 70,
    JarSize.TWELVE_OUNCE: 70,
    JarSize.PINT: 70,
    JarSize.PINT_AND_HALF: 50,
    JarSize.QUART: 50,
    JarSize.HALF_GALLON: 30,
}


def usual_work(food: str, pack: Pack, jar: JarSize) -> Work:
    """The work one jar of this food takes until the kitchen has measured it.

    Refused: a food that is not printed.
    """
    per_quart = _PREP_PER_QUART_BY_GUIDE.get(str(find_food(food).guide), _PREP_PER_QUART_OTHERWISE)
    return Work(
        prep_person_minutes_per_jar=round(per_quart * SHAPES[jar].volume_qt, 2),
        kettle_minutes=_HOT_PACK_KETTLE_MINUTES if pack is Pack.HOT else 0,
    )


def fill_minutes(jars: Mapping[JarSize, int], hands: int, pace: float = 1.0) -> int:
    """Whole minutes in which so many hands fill these jars; ``pace`` is what the kitchen's records taught."""
    return max(1, math.ceil(usual_fill_minutes(jars, hands) * pace))


def usual_fill_minutes(jars: Mapping[JarSize, int], hands: int) -> float:
    """The same before anything is learned, not rounded."""
    return sum(count / _FILLED_PER_PERSON_HOUR[jar] for jar, count in jars.items()) * 60 / hands


def prep_minutes(person_minutes_per_jar: float, jars: int, hands: int) -> int:
    """Whole minutes in which so many hands prepare food for these jars; 0 when it comes prepared."""
    return math.ceil(person_minutes_per_jar * jars / hands)
