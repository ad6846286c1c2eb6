"""Made-up days for measuring: the same seed and size always give the same day.

The kitchens, people and produce are invented. What matters is their proportions: foods whose processes were
seen on two pages (confidence A), canners of all kinds, and as much work as a kitchen takes in when it knows what its
canners can do. The days are full but fit: a good plan leaves nothing out.
"""

from __future__ import annotations

from collections.abc import Iterator
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
from scheduler.work import Work, prep_minutes, usual_work

# Saturday of a harvest weekend in UTC: no change of clocks lies near it.
_DATE = date(2026, 9, 5)
_DAY_MINUTES = 24 * 60
_OPENS, _CLOSES = 7 * 60, 21 * 60
_QUARTER_HOUR = 15
# Two batches in five are there when the kitchen opens. The others come up to last admission: an hour before closing
# less the lot's own chain, from the first jar prepared to the last one out.
_THERE_AT_OPENING = 0.4
_LAST_OUT = _CLOSES - 60
# How long a member leaves a lot there, as a share of its chain.
_SHORTEST_STAY, _LONGEST_STAY = 1.2, 2.4
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


_SCALES = {
    Size.S: _Scale(batches=6, canners=2, people=5, days=1),
    Size.M: _Scale(batches=20, canners=6, people=15, days=1),
    Size.L: _Scale(batches=60, canners=12, people=36, days=1),
    Size.XL: _Scale(batches=200, canners=20, people=60, days=3),
}
# What a member brings before the kitchen cuts it down to what fits, in quarts.
_LEAST_QUARTS, _MOST_QUARTS = 5, 24
# A rough measure of what a day holds: minutes of a load under pressure and of another, quarts and pints in it, and how
# many of a canner's minutes in the day may be promised.
_PRESSURE_LOAD_MINUTES, _OPEN_LOAD_MINUTES = 140, 70
_IN_A_LOAD = {JarSize.QUART: 7, JarSize.PINT: 9}
_PROMISED_MINUTES = 600

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
_UNDER_PRESSURE = ("snap_beans", "corn_whole_kernel", "carrots", "beets", "chicken_rabbit_without_bones")
_POWERS_W = ((3500, GAS_EFFICIENCY), (3000, INDUCTION_EFFICIENCY), (2400, ELECTRIC_EFFICIENCY))


def random_day(seed: int, size: Size | str) -> Day:
    """A day of this size. The same seed and size give the same day on every Python."""
    scale = _SCALES[Size(size)]
    # Not for secrets: the seed must bring the same day back.
    random = Random(f"{seed}/{size}")  # noqa: S311 - repeatable, no secret
    opening = tuple(
        Span(_OPENS + day * _DAY_MINUTES, _CLOSES + day * _DAY_MINUTES) for day in range(scale.days)
    )
    canners, burners = _heat(random, scale, opening)
    batches = tuple(batch for day in range(scale.days) for batch in _batches_of_day(random, scale, day))
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
        policy=Policy(longest_shift_minutes=_CLOSES - _OPENS),  # Trained people stay from opening to closing.
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
        service=tuple(_service(random, span) for span in opening),
        layers=2 if deep else 1,
        gauge_checked_on=_DATE - timedelta(days=90) if kind is CannerKind.DIAL else None,
    )


def _service(random: Random, opening: Span) -> Span:
    """The whole day, or all but its first or last hours: one canner in six is lent out then."""
    hours = 60 * random.choice((1, 2))
    return random.choice(
        (opening,) * 10 + (Span(opening.start + hours, opening.end), Span(opening.start, opening.end - hours))
    )


def _batches_of_day(random: Random, scale: _Scale, day: int) -> Iterator[Batch]:
    """The batches of one day, cut down until its canners can carry them."""
    numbers = range(1 + day * scale.batches // scale.days, 1 + (day + 1) * scale.batches // scale.days)
    brought = [
        (
            random.choices(_FOODS, weights=[often for _, _, often in _FOODS])[0],
            random.choice((JarSize.PINT, JarSize.QUART)),
            random.randint(_LEAST_QUARTS, _MOST_QUARTS),
        )
        for _ in numbers
    ]
    lots = [
        _Lot(food, pack, jar, quarts if jar is JarSize.QUART else 2 * quarts)
        for (food, pack, _), jar, quarts in brought
    ]
    kinds = [_KINDS[number % len(_KINDS)] for number in range(scale.canners)]
    _cut_down([lot for lot in lots if lot.under_pressure], sum(kind.is_pressure for kind in kinds))
    _cut_down(lots, len(kinds))
    for number, lot in zip(numbers, lots, strict=True):
        yield _batch(random, number, day, lot)


@dataclass(slots=True)
class _Lot:
    food: str
    pack: Pack
    jar: JarSize
    jars: int

    @property
    def under_pressure(self) -> bool:
        return self.food in _UNDER_PRESSURE

    @property
    def loads(self) -> int:
        return -(-self.jars // _IN_A_LOAD[self.jar])

    @property
    def work(self) -> Work:
        return usual_work(self.food, self.pack, self.jar)

    @property
    def load_minutes(self) -> int:
        return _PRESSURE_LOAD_MINUTES if self.under_pressure else _OPEN_LOAD_MINUTES

    @property
    def chain_minutes(self) -> int:
        """From the first jar prepared to the last one out, with two pairs of hands and two canners at a time."""
        prep = prep_minutes(self.work.prep_person_minutes_per_jar, self.jars, 4)
        return prep + self.work.kettle_minutes + (self.loads + 1) // 2 * self.load_minutes


def _cut_down(lots: list[_Lot], canners: int) -> None:
    """Take from the largest until so many canners can carry them all, or each is down to one load."""
    while sum(lot.loads * lot.load_minutes for lot in lots) > canners * _PROMISED_MINUTES:
        largest = max(lots, key=lambda lot: lot.loads)
        if largest.loads == 1:
            return
        largest.jars -= 1


def _batch(random: Random, number: int, day: int, lot: _Lot) -> Batch:
    there = random.random() < _THERE_AT_OPENING
    arrival = _OPENS if there else _quarter(random, _OPENS, _LAST_OUT - lot.chain_minutes)
    stay = lot.chain_minutes * random.uniform(_SHORTEST_STAY, _LONGEST_STAY)
    pickup = arrival + _QUARTER_HOUR * round(stay / _QUARTER_HOUR)
    return Batch(
        id=f"batch-{number}",
        member=f"{random.choice(_MEMBERS)} {number}",
        food_id=lot.food,
        pack=lot.pack,
        jar=lot.jar,
        jars=lot.jars,
        arrival=day * _DAY_MINUTES + arrival,
        pickup=day * _DAY_MINUTES + min(_CLOSES, pickup),
        prep_person_minutes_per_jar=lot.work.prep_person_minutes_per_jar,
        kettle_minutes=lot.work.kettle_minutes,
        meat_or_fish=find_food(lot.food).meat_or_fish,
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
    """Trained people, one for two canners, stay from opening to closing; the others come for a morning or for an
    afternoon, in turn, so that there are hands all day.
    """
    trained = 1 + scale.canners // 2
    people = []
    for number in range(1, scale.people + 1):
        starts, ends = _OPENS, _CLOSES
        if number > trained and number % 2:
            ends = _quarter(random, _OPENS + 6 * 60, _OPENS + 8 * 60)
        elif number > trained:
            starts = _quarter(random, _CLOSES - 9 * 60, _CLOSES - 7 * 60)
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
