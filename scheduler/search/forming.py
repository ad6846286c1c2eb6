"""An order to begin with, formed by the core: which jars share loads, on which canners, one after the other.

The core knows canners, capacities, cycles, arrivals and pick-ups, but no hands, kettles or tables. What it makes of the
day is decoded like any other order, and is one of those that the search may begin from.
"""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.core.question import Job, Machine, Question, Weights
from scheduler.core.solve import Budget, solve
from scheduler.errors import BadDay
from scheduler.interval import intersect
from scheduler.jars import JarSize, Pack
from scheduler.problem import Day
from scheduler.search.bounds import ready_minutes
from scheduler.search.options import Family, Option, Options
from scheduler.search.placed import Gene

# Late minutes outweigh canner minutes: the levels of the objective in their order, as far as the core knows them.
_TARDY_WEIGHT, _RUN_WEIGHT = 20, 1
# Changes tried for each parcel of jars. Tried on made-up days: more does not make better beginnings.
_MOVES_PER_PARCEL, _MOST_MOVES = 10_000, 1_000_000


@dataclass(frozen=True, slots=True)
class _Kin:
    """What jars of one load have in common, whatever the canner (rule S2)."""

    jar: JarSize
    pack: Pack
    meat_or_fish: bool
    families: tuple[tuple[int, Family], ...]


@dataclass(frozen=True, slots=True)
class _Parcel:
    """Jars of one batch that stay together."""

    batch: int
    jars: int


def formed_order(day: Day, options: Options, seed: int) -> list[Gene]:
    """The turns of the day that the core makes; none when it finds no day that its canners' hours allow."""
    parcels = [
        parcel
        for number, row in enumerate(options.by_batch)
        if row
        for parcel in _parcels(number, day.batches[number].jars, min(option.jars for option in row))
    ]
    if not parcels:
        return []
    question = _question(day, options, parcels)
    try:
        answer = solve(
            question,
            budget=Budget(0, moves=min(_MOVES_PER_PARCEL * len(parcels), _MOST_MOVES)),
            workers=1,
            seed=seed,
        )
    except BadDay:
        return []
    turns: list[Gene] = []
    for load in sorted(answer.batches, key=lambda one: (one.start, one.machine)):
        first, *others = dict.fromkeys(parcels[number].batch for number in load.jobs)
        turns.append((first, load.machine))
        turns += [(other, None) for other in others]
    return turns


def _parcels(batch: int, jars: int, most: int) -> list[_Parcel]:
    """As many jars as every canner takes, and the rest."""
    full, rest = divmod(jars, most)
    return [_Parcel(batch, most)] * full + ([_Parcel(batch, rest)] if rest else [])


def _question(day: Day, options: Options, parcels: list[_Parcel]) -> Question:
    best = [_best_by_canner(row) for row in options.by_batch]
    kin = {parcel.batch: _kin(day, parcel.batch, best[parcel.batch]) for parcel in parcels}
    numbers = {one: number for number, one in enumerate(dict.fromkeys(kin.values()), 1)}
    room = {(numbers[kin[batch]], canner): one.jars for batch in kin for canner, one in best[batch].items()}
    cleaning = [0] + [day.policy.cleaning_minutes if one.meat_or_fish else 0 for one in numbers]
    families = range(len(numbers) + 1)
    return Question(
        machines=tuple(
            Machine(
                capacity=tuple(room.get((family, number), 0) for family in families),
                windows=intersect(day.opening, canner.service),
                family_at_first=0,
            )
            for number, canner in enumerate(day.canners)
        ),
        jobs=tuple(
            Job(
                family=numbers[kin[parcel.batch]],
                size=parcel.jars,
                release=ready_minutes(day, parcel.batch),
                due=day.batches[parcel.batch].pickup,
                minutes=tuple(
                    best[parcel.batch][canner].minutes if canner in best[parcel.batch] else None
                    for canner in range(len(day.canners))
                ),
                most_minutes=day.horizon,
            )
            for parcel in parcels
        ),
        setup_minutes=tuple(tuple(cleaning[before] for _ in families) for before in families),
        setup_cost=tuple((0,) * len(families) for _ in families),
        weights=Weights(run=_RUN_WEIGHT, tardy=_TARDY_WEIGHT),
    )


def _best_by_canner(row: tuple[Option, ...]) -> dict[int, Option]:
    """The line for each canner that takes it the shortest for each jar."""
    best: dict[int, Option] = {}
    for option in row:
        if (
            option.canner not in best
            or option.minutes * best[option.canner].jars < best[option.canner].minutes * option.jars
        ):
            best[option.canner] = option
    return best


def _kin(day: Day, number: int, best: dict[int, Option]) -> _Kin:
    batch = day.batches[number]
    families = tuple(sorted((canner, option.family) for canner, option in best.items()))
    return _Kin(batch.jar, batch.pack, batch.meat_or_fish, families)
