"""Brute force agrees with the planner: on tiny days, every order on every canner is tried."""

from __future__ import annotations

import itertools
import time
from dataclasses import replace

import pytest

from scheduler.generator import random_day
from scheduler.plan import Plan
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.search.bounds import bounds_of
from scheduler.search.decode import Decoder
from scheduler.search.options import options_of
from scheduler.search.placed import Gene, Score

# A day of two batches, none with more jars than two loads take.
_MOST_JARS = 12


def tiny_day(seed: int) -> Day:
    """Two batches on two canners; on every third day the kitchen closes early, so that jars may be left out."""
    day = random_day(seed, "S")
    batches = tuple(
        replace(batch, jars=min(batch.jars, _MOST_JARS), pickup=batch.pickup - 15 * (seed % 5))
        for batch in day.batches[:2]
    )
    if seed % 3 == 0:
        soon = max(batch.arrival for batch in batches) + 100 + 10 * (seed % 7)
        opening = (replace(day.opening[0], end=soon),)
        day = replace(day, opening=opening)
    return replace(day, batches=batches)


def best_of_all(day: Day) -> Score:
    """The best score of every order of one or two turns a batch, each turn on every canner or where it is out first."""
    decoder = Decoder(day, options_of(day))
    canners = [[None, *sorted({one.canner for one in row})] for row in decoder.options.by_batch]
    best: Score | None = None
    for turns in ((0, 1), (0, 0, 1), (0, 1, 1), (0, 0, 1, 1)):
        for order in set(itertools.permutations(turns)):
            for chosen in itertools.product(*(canners[batch] for batch in order)):
                genes: list[Gene] = list(zip(order, chosen, strict=True))
                score = decoder.decode(genes).score
                best = score if best is None or score < best else best
    assert best is not None
    return best


def levels(planned: Plan) -> Score:
    left, late, out, minutes, loads, changes = (level.value for level in planned.levels)
    return (left, late, out, minutes, loads, changes)


@pytest.mark.parametrize("tens", range(20))
def test_the_planner_finds_the_best_of_all_orders_of_a_tiny_day(tens: int) -> None:
    for seed in range(10 * tens + 1, 10 * tens + 11):
        day = tiny_day(seed)
        planned = plan(day, seconds=0.1, seed=1, clock=time.monotonic)
        best = best_of_all(day)
        assert levels(planned) == best, seed
        bounds = bounds_of(day, options_of(day), best[0])
        assert all(bound.value <= value for bound, value in zip(bounds, best, strict=True)), seed
