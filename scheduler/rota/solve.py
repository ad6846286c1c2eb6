"""Draws up a rota: from a first one, by annealing, to one in which nothing is too much for anybody.

Fewest unfilled minutes come first, then a fair share of the work and of the unpleasant work, then what people like,
then few hand-overs and few changes. What cannot be done without asking too much of somebody stays unfilled.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scheduler.chance import seeded
from scheduler.rota.anneal import TOO_MUCH_WEIGHT, WEIGHTS, anneal, cost_of, set_out
from scheduler.rota.arrays import NOBODY, Arrays, Ints, arrays_of
from scheduler.rota.bearing import bearable, is_bearable
from scheduler.rota.paired import paired, shares
from scheduler.rota.person import new_state
from scheduler.rota.question import Question, Taken, unfilled_minutes

TRIES_PER_SECOND = 12_500
"""Changes tried for a second of effort: a measure of work that is the same on every machine."""

_PAIRING_TRIES = 60_000
"""From so many on, a quarter goes to the first rota and the rest to one whose watches are given out in blocks."""

Rounds = tuple[tuple[float, float], ...]
# How warm each round begins, and how many times dearer what is too much is in it.
_ROUNDS = ((60.0, 100.0), (20.0, 100.0), (8.0, 100.0))
_SEARCHING = ((4000.0, 1.0), (4000.0, 100.0), (400.0, 100.0))
"""Rounds before these where the first rota is not whole: warm enough to empty a seat for a while, and at first to ask
too much of somebody."""


def draw_up(
    question: Question,
    first: Taken,
    before: Taken,
    *,
    tries: int,
    seed: int,
    prices: NDArray[np.float64] = WEIGHTS,
    calm: bool = False,
) -> Taken:
    """The best rota found in so many changes, begun from ``first``; ``before`` is the one that people know.

    ``prices`` say what each fault of a rota costs, as ``anneal.WEIGHTS`` does. ``calm``: stay near the first rota, also
    where it is not whole. Only seats that may stay so are left empty for comfort. The same question, first rota and
    seed give the same rota.
    """
    if not question.seats or not question.helpers:
        return tuple(None for _ in question.seats)
    arrays, known = arrays_of(question), _numbers(before)

    def drawn(start: Taken, rounds: Rounds, tries: int) -> Taken:
        return _annealed(question, arrays, start, known, rounds, tries=tries, seed=seed, prices=prices)

    rounds = _ROUNDS if calm or _is_whole(question, first) else (*_SEARCHING, *_ROUNDS)
    if calm or tries < _PAIRING_TRIES or not shares(question):
        return drawn(first, rounds, tries)
    few = tries // 4
    found = [drawn(first, rounds, few), drawn(paired(question, first), _ROUNDS, tries - few)]
    return min(found, key=lambda taken: _worth(question, arrays, taken, known, prices))


def _annealed(
    question: Question,
    arrays: Arrays,
    first: Taken,
    before: Ints,
    rounds: Rounds,
    *,
    tries: int,
    seed: int,
    prices: NDArray[np.float64],
) -> Taken:
    random = seeded(seed)
    holder = _within(question, arrays, first)
    best = holder.copy()
    for hot, dearer in rounds if tries else ():
        weights = prices.copy()
        weights[TOO_MUCH_WEIGHT] *= dearer
        state = new_state(arrays)
        set_out(arrays, state, holder)
        anneal(arrays, state, before, weights, random, best, hot, tries // len(rounds))
        holder = best.copy()
    return bearable(question, [None if one == NOBODY else int(one) for one in best])


def _worth(
    question: Question, arrays: Arrays, taken: Taken, before: Ints, prices: NDArray[np.float64]
) -> tuple[int, float]:
    """Less is better: minutes that nobody fills, then everything else."""
    state = new_state(arrays)
    set_out(arrays, state, _numbers(taken))
    return unfilled_minutes(question, taken), cost_of(arrays, state, before, prices)


def _is_whole(question: Question, taken: Taken) -> bool:
    """True when nothing is empty that should not be, and nothing too much for anybody."""
    return not unfilled_minutes(question, taken) and all(
        is_bearable(question, taken, person) for person in range(len(question.helpers))
    )


def _within(question: Question, arrays: Arrays, first: Taken) -> Ints:
    """A first rota that only uses people who may: whoever may not take a seat is not put there."""
    holder = _numbers(first)
    pinned = {number for number, _ in question.pinned}
    for number in range(len(question.seats)):
        choices = arrays.choices[number, : arrays.choice_count[number]]
        if holder[number] not in choices:
            holder[number] = choices[0] if number in pinned else NOBODY
    return holder


def _numbers(taken: Taken) -> Ints:
    return np.array([NOBODY if one is None else one for one in taken], dtype=np.int64)
