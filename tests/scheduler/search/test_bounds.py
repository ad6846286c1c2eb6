"""No day beats its bounds: every order of a small day is tried, on every canner."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from scheduler.generator import random_day
from scheduler.problem import Day
from scheduler.search.bounds import bounds_of, impossible
from scheduler.search.decode import Decoder
from scheduler.search.improve import improve, simple_orders
from scheduler.search.options import options_of
from scheduler.search.placed import Score
from scheduler.search.proof import Proof


def small_day(seed: int) -> Day:
    """Three batches of at most nine jars on two canners."""
    day = random_day(seed, "S")
    return replace(day, batches=tuple(replace(batch, jars=min(batch.jars, 9)) for batch in day.batches[:3]))


def every_day(day: Day) -> tuple[Decoder, list[Score]]:
    """The score of every order of up to two turns a batch, each turn on every canner or where it is out first."""
    options = options_of(day)
    decoder = Decoder(day, options)
    scores: list[Score] = []
    for order in set(itertools.permutations([0, 1, 2, 0, 1, 2], 6)):
        scores.append(decoder.decode([(batch, None) for batch in order]).score)
    for order in itertools.permutations(range(3)):
        choices = [[None, *{option.canner for option in options.by_batch[batch]}] for batch in order]
        for canners in itertools.product(*choices):
            scores.append(decoder.decode(list(zip(order, canners, strict=True))).score)
    return decoder, scores


@pytest.mark.parametrize("seed", range(1, 9))
def test_no_order_of_a_small_day_beats_a_bound(seed: int) -> None:
    day = small_day(seed)
    _, scores = every_day(day)
    for score in set(scores):
        bounds = bounds_of(day, options_of(day), score[0])
        for value, bound in zip(score, bounds, strict=True):
            assert value >= bound.value, (score, bounds)


@pytest.mark.parametrize("seed", range(1, 9))
def test_no_order_of_a_small_day_beats_what_the_solver_proves(seed: int) -> None:
    day = small_day(seed)
    decoder, scores = every_day(day)
    with Proof(day, decoder.options, lambda: 60.0) as proof:
        for left_out in sorted({score[0] for score in scores}):
            bounds = proof.final(left_out)
            for score in scores:
                if score[0] <= left_out:
                    assert all(value >= bound.value for value, bound in zip(score, bounds, strict=True)), (
                        score,
                        bounds,
                    )


def test_the_solver_proves_more_than_the_quick_bounds() -> None:
    day = random_day(1, "S")
    options = options_of(day)
    quick = bounds_of(day, options, 0)
    with Proof(day, options, lambda: 60.0) as proof:
        proven = proof.final(0)
    assert all(better.value >= bound.value for better, bound in zip(proven, quick, strict=True))
    assert proven[3].value > quick[3].value
    assert proven[4].value > quick[4].value


def test_a_day_brought_more_than_it_can_hold_is_proven_to_leave_jars_out() -> None:
    day = small_day(2)
    day = replace(day, batches=tuple(replace(batch, jars=500) for batch in day.batches))
    options = options_of(day)
    with Proof(day, options, lambda: 60.0) as proof:
        left_out = proof.final(1500)[0]
    decoded = Decoder(day, options).decode([(n, None) for n in range(3)])
    assert 0 < left_out.value <= decoded.score[0]


def test_a_proof_that_is_given_no_time_claims_no_more_than_the_quick_bounds() -> None:
    day = small_day(1)
    options = options_of(day)
    with Proof(day, options, lambda: 0.0) as proof:
        assert proof.final(0) == bounds_of(day, options, 0)


@pytest.mark.parametrize("seed", range(1, 5))
def test_the_search_finds_the_best_order_of_a_small_day(seed: int) -> None:
    day = small_day(seed)
    decoder, scores = every_day(day)
    start = decoder.decode(simple_orders(day, [0, 0, 0])["first come"])
    outcome = improve(
        decoder, start, seed=1, effort=6000, least=(0,) * 6, stop=lambda: None, on_better=lambda *_: None
    )
    assert outcome.best.score <= min(scores)


def test_a_batch_that_nothing_can_carry_is_proven_left_out() -> None:
    day = small_day(1)
    late = replace(day.batches[0], arrival=day.horizon - 10, pickup=day.horizon + 10)
    day = replace(day, batches=(late, *day.batches[1:]))
    options = options_of(day)
    assert impossible(day, options) == (0,)
    assert bounds_of(day, options, late.jars)[0].value == late.jars


def test_below_a_level_that_is_not_proven_nothing_is_claimed() -> None:
    day = small_day(1)
    assert [bound.value for bound in bounds_of(day, options_of(day), left_out=5)[1:]] == [0, 0, 0, 0, 0]
