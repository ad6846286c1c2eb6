"""The compiled decoder makes the very day that the plain one makes, on days with everything that a day can have."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from scheduler.generator import random_day
from scheduler.interval import Span
from scheduler.jars import JarSize
from scheduler.problem import Batch, Day, Kettle, TableUse
from scheduler.search.decode import Decoder
from scheduler.search.options import options_of
from scheduler.search.placed import Decoded, Gene
from tests.scheduler.search.plain_decoder import PlainDecoder

DAYS_A_TEST = 25


def odd_day(seed: int) -> Day:
    """A made-up day with everything away from its usual: policies, shared burners, canners away, several sizes of jar,
    little table space, people who come and go, stations missing.
    """
    random = Random(seed)  # noqa: S311 - made-up days need repeatable numbers, not secret ones.
    day = random_day(seed, random.choice("SSM"))
    policy = replace(
        day.policy,
        share_under_longest=random.random() < 0.5,
        canners_per_person=random.choice([1, 2, 3]),
        cooling_stand_minutes=random.choice([720, 1440]),
        cool_down_minutes=random.choice([20, 40, 60]),
        meat_cut_off=random.choice([None, 900]),
        fill_hands=random.choice([1, 2, 3]),
        prep_hands=random.choice([1, 2, 4]),
        cleaning_minutes=random.choice([1, 15, 45]),
    )
    return replace(
        day,
        policy=policy,
        batches=tuple(_odd_batch(random, batch) for batch in day.batches),
        canners=tuple(
            replace(canner, service=_without_an_hour(random, day.opening[0])) for canner in day.canners
        ),
        kettles=tuple(_odd_kettle(random, day, kettle) for kettle in day.kettles),
        people=tuple(replace(person, under_16=random.random() < 0.2) for person in day.people),
        stations=tuple(station for station in day.stations if random.random() < 0.7),
        tables=tuple(
            replace(table, taken=(TableUse(span=Span(0, random.choice([500, 900])), area_sq_in=1000.5),))
            for table in day.tables[: random.choice([0, 1, 1, 2])]
        ),
    )


def _odd_batch(random: Random, batch: Batch) -> Batch:
    return replace(
        batch,
        jar=random.choice([batch.jar, batch.jar, JarSize.HALF_PINT, JarSize.PINT]),
        food_id=random.choice([batch.food_id, "applesauce"]) if batch.kettle_minutes else batch.food_id,
        prep_person_minutes_per_jar=random.choice([0.0, batch.prep_person_minutes_per_jar]),
    )


def _without_an_hour(random: Random, opening: Span) -> tuple[Span, ...]:
    if random.random() < 0.5:
        return (opening,)
    hole = random.randrange(opening.start + 1, opening.end - 61)
    return (Span(opening.start, hole), Span(hole + 60, opening.end))


def _odd_kettle(random: Random, day: Day, kettle: Kettle) -> Kettle:
    burner = random.choice([None, *(burner.id for burner in day.burners)])
    return replace(kettle, burner_id=burner, volume_qt=random.choice([3.0, 8.0, 24.0]))


def some_order(random: Random, day: Day) -> list[Gene]:
    """Turns in any order, some for a canner, too few for some batches and too many for others."""
    canners = [None, None, *range(len(day.canners))]
    return [(random.randrange(len(day.batches)), random.choice(canners)) for _ in range(3 * len(day.batches))]


def told(decoded: Decoded) -> object:
    """Everything about a decoded day that can be compared."""
    return (decoded.score, decoded.turns, decoded.left, decoded.late, decoded.loads)


@pytest.mark.parametrize("first", range(0, 200, DAYS_A_TEST))
def test_it_makes_the_same_day_as_the_plain_decoder(first: int) -> None:
    for seed in range(first, first + DAYS_A_TEST):
        day = odd_day(seed)
        options = options_of(day)
        compiled, plain = Decoder(day, options), PlainDecoder(day, options)
        random = Random(seed)  # noqa: S311 - as above.
        for _ in range(3):
            order = some_order(random, day)
            assert told(compiled.decode(order)) == told(plain.decode(order)), seed


def test_the_odd_days_have_all_that_sharing_can_do() -> None:
    shared = mixed = 0
    for seed in range(60):
        day = odd_day(seed)
        decoded = Decoder(day, options_of(day)).decode(some_order(Random(seed), day))  # noqa: S311
        for load in decoded.loads:
            shared += len(load.pieces) > 1
            mixed += len({day.batches[piece.batch].jar for piece in load.pieces}) > 1
    assert shared > 20
    assert mixed > 5


def test_the_turns_of_a_day_make_it_again() -> None:
    for seed in range(20):
        day = odd_day(seed)
        decoder = Decoder(day, options_of(day))
        made = decoder.decode(some_order(Random(seed), day))  # noqa: S311
        assert told(decoder.decode(made.turns)) == told(made)


def test_effort_counts_the_places_looked_at() -> None:
    day = random_day(1, "S")
    decoder = Decoder(day, options_of(day))
    decoder.decode([(0, None)])
    first = decoder.effort
    decoder.decode([(0, None)])
    assert decoder.effort == 2 * first > 0
