"""The annealing loop, compiled: change the order, make the day, keep it when it is better and sometimes when not."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.chance import seeded, share
from scheduler.compiled import compiled, compiled_part
from scheduler.search.layout import (
    EFFORT,
    LEFT,
    NONE,
    OF_BATCH,
    PIECES,
    TURN,
    Facts,
    Floor,
    Numbers,
)
from scheduler.search.make import make_day
from scheduler.search.moves import change

CURRENT, TRIAL, BEST = range(3)
# Places in ``Search.tally``.
TRIES, BETTER = range(2)
# Warmth at the end, so that equal days still change places.
_LAST_WARMTH = 0.05


class Search(NamedTuple):
    """Three orders with their lengths and scores: the current, the one being tried, the best.

    ``of_batch`` are the current day's rows of that name, ``state`` the random numbers, ``tally`` what was done so far.
    """

    orders: Numbers
    lengths: Numbers
    scores: Numbers
    of_batch: Numbers
    state: Numbers
    tally: Numbers


def new_search(order: Numbers, fresh: Floor, seed: int) -> Search:
    """A search that begins at an order."""
    room = max(fresh.pieces.shape[0], len(order)) + fresh.of_batch.shape[1]
    orders = np.zeros((3, room, 2), dtype=np.int64)
    orders[:, : len(order)] = order
    return Search(
        orders=orders,
        lengths=np.full(3, len(order), dtype=np.int64),
        scores=np.zeros((3, len(fresh.score)), dtype=np.int64),
        of_batch=np.zeros_like(fresh.of_batch),
        state=seeded(seed),
        tally=np.zeros(2, dtype=np.int64),
    )


@compiled
def begin(facts: Facts, fresh: Floor, floor: Floor, search: Search) -> None:
    """Make the day of the first order; it is the current and the best."""
    make_day(facts, fresh, floor, search.orders[TRIAL], search.lengths[TRIAL])
    _keep(floor, search)
    _copy_order(search, BEST, CURRENT)


@compiled
def anneal(
    facts: Facts,
    fresh: Floor,
    floor: Floor,
    search: Search,
    weights: NDArray[np.float64],
    hot: float,
    span: tuple[int, int, int],
) -> None:
    """Try changes until the effort reaches ``span[1]``; from ``span[0]`` to ``span[2]`` it gets colder."""
    first, until, end = span
    if search.lengths[CURRENT] == 0:
        return
    while floor.counts[EFFORT] < until:
        search.tally[TRIES] += 1
        count = search.lengths[CURRENT]
        _copy_order(search, TRIAL, CURRENT)
        change(facts, search.orders[TRIAL], count, search.of_batch, search.scores[CURRENT, 2], search.state)
        make_day(facts, fresh, floor, search.orders[TRIAL], count)
        cold = 1.0 - (floor.counts[EFFORT] - first) / max(1, end - first)
        worse_by = 0.0
        for level in range(weights.shape[0]):
            worse_by += weights[level] * (floor.score[level] - search.scores[CURRENT, level])
        if worse_by <= 0.0 or share(search.state) < _falling(worse_by / (hot * cold**3 + _LAST_WARMTH)):
            _keep(floor, search)
            if _is_less(search.scores[CURRENT], search.scores[BEST]):
                _copy_order(search, BEST, CURRENT)
                search.tally[BETTER] += 1


@compiled_part
def _falling(steps: float) -> float:
    """About e to the minus ``steps``, in plain arithmetic, which is the same on every machine."""
    if steps >= 64.0:
        return 0.0
    value = 1.0 - steps / 1024.0
    for _ in range(10):
        value *= value
    return value


@compiled_part
def _is_less(score: Numbers, other: Numbers) -> bool:
    for level in range(score.shape[0]):
        if score[level] != other[level]:
            return bool(score[level] < other[level])
    return False


@compiled_part
def _keep(floor: Floor, search: Search) -> None:
    """The day on the floor becomes the current one: its order is the turns that placed something, then one for each
    batch with jars that found no place.
    """
    trial, current = search.orders[TRIAL], search.orders[CURRENT]
    count = 0
    for piece in range(floor.counts[PIECES]):
        turn = floor.pieces[piece, TURN]
        current[count, 0] = floor.pieces[piece, OF_BATCH]
        current[count, 1] = NONE if turn == NONE else trial[turn, 1]
        count += 1
    for batch in range(floor.of_batch.shape[1]):
        if floor.of_batch[LEFT, batch]:
            current[count, 0] = batch
            current[count, 1] = NONE
            count += 1
        for row in range(floor.of_batch.shape[0]):
            search.of_batch[row, batch] = floor.of_batch[row, batch]
    search.lengths[CURRENT] = count
    for level in range(floor.score.shape[0]):
        search.scores[CURRENT, level] = floor.score[level]


@compiled_part
def _copy_order(search: Search, into: int, source: int) -> None:
    for place in range(search.lengths[source]):
        search.orders[into, place, 0] = search.orders[source, place, 0]
        search.orders[into, place, 1] = search.orders[source, place, 1]
    search.lengths[into] = search.lengths[source]
    for level in range(search.scores.shape[1]):
        search.scores[into, level] = search.scores[source, level]
