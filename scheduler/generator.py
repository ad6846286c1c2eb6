"""Made-up days for measuring: the same seed and size always give the same day.

The kitchens, people and produce are invented. What matters is their proportions: foods whose processes were
seen on two pages (confidence A), canners of all kinds, about as much work as a kitchen can do.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from random import Random

from scheduler.canner import ELECTRIC_EFFICIENCY, GAS_EFFICIENCY, INDUCTION_EFFICIENCY, Burner, Canner
from scheduler.canner_kind import CannerKind
from scheduler.foods import find_food
from scheduler.interval import Span
from scheduler.jars import SHAPES, JarSize, Pack
from scheduler.problem import (
    Batch,
    CoolingTable,
    Day,
    Hands,
    Kettle,
    Person,
    Policy,
    Station,
    StationKind,
)
from scheduler.work import usual_work

# Saturday of a harvest weekend in UTC: no change of clocks lies near it.
_DATE = date(2026, 9, 5)
_DAY_MINUTES = 24 * 60
_OPENS, _CLOSES = 7 * 60, 21 * 60
_QUARTER_HOUR = 15
_MEMBERS = ("Ash", "Birch", "Cedar", "Elder", "Fir", "Gorse", "Hazel", "Juniper", "Linden", "Maple", "Rowan")


class Size(StrEnum):
    """How big a made-up day is."""

    S = "S"
    M = "M"
    L = "L"
    XL = "XL"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    batches: int
    canners: int
    people: int
    days: int
    most_quarts: int


_SCALES = {
    Size.S: _Scale(batches=6, canners=2, people=5, days=1, most_quarts=18),
    Size.M: _Scale(batches=20, canners=6, people=15, days=1, most_quarts=22),
    Size.L: _Scale(batches=60, canners=12, people=36, days=1, most_quarts=18),
    Size.XL: _Scale(batches=200, canners=20, people=48, days=3, most_quarts=18),
}

# The first two serve every food below, so even the smallest kitchen refuses none.
_KINDS = (
    CannerKind.BOILING_WATER,
    CannerKind.WEIGHTED,
    CannerKind.BOILING_WATER,
    CannerKind.DIAL,
    CannerKind.STEAM,
    CannerKind.WEIGHTED,
)
# How often a food comes, the fruit of the season more than meat.
_FOODS: tuple[tuple[str, Pack, int], ...] = (
    ("applesauce", Pack.HOT, 5),
    ("apples_sliced", Pack.HOT, 2),
    ("peaches", Pack.HOT, 3),
    ("pears", Pack.HOT, 2),
    ("plums", Pack.RAW, 1),
    ("tomatoes_whole_in_water", Pack.RAW, 4),
    ("tomato_sauce_standard", Pack.HOT, 3),
    ("quick_dill_pickles", Pack.RAW, 2),
    ("snap_beans", Pack.RAW, 4),
    ("corn_whole_kernel", Pack.RAW, 2),
    ("carrots", Pack.HOT, 2),
    ("beets", Pack.HOT, 2),
    ("chicken_rabbit_without_bones", Pack.RAW, 1),
)
_POWERS_W = ((3500, GAS_EFFICIENCY), (3000, INDUCTION_EFFICIENCY), (2400, ELECTRIC_EFFICIENCY))


def random_day(seed: int, size: Size | str) -> Day:
    """A day of this size. The same seed and size give the same day on every Python."""
    scale = _SCALES[Size(size)]
    # Not for secrets: the seed must bring the same day back.
    random = Random(f"{seed}/{size}")  # noqa: S311
    opening = tuple(
        Span(_OPENS + day * _DAY_MINUTES, _CLOSES + day * _DAY_MINUTES) for day in range(scale.days)
    )
    canners, burners = _heat(random, scale, opening)
    batches = tuple(_batch(random, scale, number) for number in range(1, scale.batches + 1))
    return Day(
        kitchen=f"Measuring Kitchen {size}{seed}",
        altitude_ft=random.choice((600, 1800, 2600, 4500)),
        time_zone="UTC",
        date=_DATE,
        origin=datetime(_DATE.year, _DATE.month, _DATE.day, tzinfo=UTC),
        opening=opening,
        canners=canners,
        burners=burners,
        batches=batches,
        kettles=_kettles(scale),
        stations=_stations(scale, opening),
        people=_people(random, scale),
        tables=_tables(batches),
        policy=Policy(),
    )


def _heat(
    random: Random, scale: _Scale, opening: tuple[Span, ...]
) -> tuple[tuple[Canner, ...], tuple[Burner, ...]]:
    canners, burners = [], []
    for number in range(1, scale.canners + 1):
        kind = _KINDS[(number - 1) % len(_KINDS)]
        power_w, efficiency = random.choice(_POWERS_W)
        burners.append(
            Burner(id=f"burner-{number}", name=f"Burner {number}", power_w=power_w, efficiency=efficiency)
        )
        canners.append(_canner(random, number, kind, opening))
    return tuple(canners), tuple(burners)


def _canner(random: Random, number: int, kind: CannerKind, opening: tuple[Span, ...]) -> Canner:
    deep = kind.is_pressure and random.random() < 0.5
    depth_in = {CannerKind.BOILING_WATER: 11.0, CannerKind.STEAM: 9.0}.get(kind, 13.0 if deep else 10.5)
    return Canner(
        id=f"canner-{number}",
        name=f"Canner {number}",
        kind=kind,
        inside_diameter_in=12.5,
        inside_depth_in=depth_in,
        burner_id=f"burner-{number}",
        service=opening,
        layers=2 if deep else 1,
        gauge_checked_on=_DATE - timedelta(days=90) if kind is CannerKind.DIAL else None,
    )


def _batch(random: Random, scale: _Scale, number: int) -> Batch:
    food, pack, _ = random.choices(_FOODS, weights=[often for _, _, often in _FOODS])[0]
    jar = random.choice((JarSize.PINT, JarSize.QUART))
    quarts = random.randint(4, scale.most_quarts)
    work = usual_work(food, pack, jar)
    day_start = random.randrange(scale.days) * _DAY_MINUTES
    arrival = _quarter(random, _OPENS, _OPENS + 5 * 60)
    stay = _quarter(random, 5 * 60, 10 * 60)
    return Batch(
        id=f"batch-{number}",
        member=f"{random.choice(_MEMBERS)} {number}",
        food_id=food,
        pack=pack,
        jar=jar,
        jars=quarts if jar is JarSize.QUART else 2 * quarts,
        arrival=day_start + arrival,
        pickup=day_start + min(_CLOSES, arrival + stay),
        prep_person_minutes_per_jar=work.prep_person_minutes_per_jar,
        kettle_minutes=work.kettle_minutes,
        meat_or_fish=find_food(food).meat_or_fish,
    )


def _kettles(scale: _Scale) -> tuple[Kettle, ...]:
    """One kettle a canner, none on a canner's burner; a full canner of quarts fits in."""
    return tuple(
        Kettle(id=f"kettle-{number}", name=f"Kettle {number}", volume_qt=24.0)
        for number in range(1, scale.canners + 1)
    )


def _stations(scale: _Scale, opening: tuple[Span, ...]) -> tuple[Station, ...]:
    hands = {
        StationKind.PREP: scale.canners + 2,
        StationKind.KETTLE: scale.canners,
        StationKind.FILL: max(2, scale.canners),
        StationKind.CANNER: scale.canners,
        StationKind.COOLING: max(1, scale.canners // 2),
    }
    return tuple(
        Station(kind=kind, hands=tuple(Hands(span=span, count=count) for span in opening))
        for kind, count in hands.items()
    )


def _people(random: Random, scale: _Scale) -> tuple[Person, ...]:
    """Trained people, one for two canners, stay from opening to closing; the others come and go."""
    trained = 1 + scale.canners // 2
    people = []
    for number in range(1, scale.people + 1):
        starts = _OPENS if number <= trained else _quarter(random, _OPENS, _OPENS + 4 * 60)
        ends = _CLOSES if number <= trained else min(_CLOSES, starts + _quarter(random, 5 * 60, 10 * 60))
        people.append(
            Person(
                id=f"person-{number}",
                name=f"Helper {number}",
                hours=tuple(
                    Span(starts + day * _DAY_MINUTES, ends + day * _DAY_MINUTES) for day in range(scale.days)
                ),
                trained=number <= trained,
                under_16=number > trained and number % 9 == 0,
            )
        )
    return tuple(people)


def _tables(batches: tuple[Batch, ...]) -> tuple[CoolingTable, ...]:
    """Tables of 3 by 8 ft, enough for all jars of the busiest day and a tenth more."""
    needed = 1.1 * sum(batch.jars * (SHAPES[batch.jar].diameter_in + 1) ** 2 for batch in batches)
    area_sq_in = 36.0 * 96.0
    return tuple(
        CoolingTable(id=f"table-{number}", name=f"Table {number}", area_sq_in=area_sq_in)
        for number in range(1, int(needed // area_sq_in) + 2)
    )


def _quarter(random: Random, least: int, most: int) -> int:
    """A time on a quarter of an hour, both ends included."""
    return random.randrange(least, most + 1, _QUARTER_HOUR)
