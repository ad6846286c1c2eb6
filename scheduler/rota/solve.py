"""Draws up a rota: from a first one, by annealing, to one in which nothing is too much for anybody.

Fewest unfilled minutes come first, then a fair share of the work and of the unpleasant work, then what people like,
then few hand-overs and few changes. What cannot be done without asking too much of somebody stays unfilled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.chance import seeded
from scheduler.interval import Span
from scheduler.rota.anneal import TOO_MUCH_WEIGHT, WEIGHTS, anneal, cost_of, set_out
from scheduler.rota.arrays import NOBODY, Arrays, Ints, arrays_of
from scheduler.rota.bearing import bearable, is_bearable
from scheduler.rota.paired import paired, shares
from scheduler.rota.person import new_state
from scheduler.rota.question import Question, Taken, unfilled_minutes

TRIES_PER_SECOND = 20_000
"""Changes tried for a second of effort: a measure of work that is the same on every machine."""

_PAIRING_TRIES = 60_000
"""From so many on, an eighth goes to the first rota and the rest to one whose watches are given out in blocks."""

Rounds = tuple[tuple[float, float], ...]
# How warm each round begins, and how many times dearer what is too much is in it.
_ROUNDS = ((60.0, 100.0), (20.0, 100.0), (8.0, 100.0))
_SEARCHING = ((4000.0, 1.0), (4000.0, 100.0), (400.0, 100.0))
"""Rounds before these where the first rota is not whole: warm enough to empty a seat for a while, and at first to ask
too much of somebody."""
_MENDING = ((400.0, 10.0), (400.0, 100.0))
"""The same for watches in blocks: not so warm that the blocks are lost."""
_MENDED_AT_MOST = 4
"""How many times they are tried on blocks in which something stays empty."""
_REACHES_MINUTES = (60, 120, 240, 480, 1920)
"""How far around what stays empty the blocks are given up, in turn: at last for more than a day."""


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
    drawing = _Drawing(question, arrays_of(question), _numbers(before), prices, seed)
    if calm:
        return drawing.annealed(first, tries)
    if tries < _PAIRING_TRIES or not shares(question):
        return drawing.annealed(first, tries, _SEARCHING)
    drawn = drawing.annealed(first, tries // 8, _SEARCHING)
    in_blocks = drawing.in_blocks(drawn, paired(question, first), tries - tries // 8)
    return min(drawn, in_blocks, key=drawing.worth)


@dataclass(frozen=True, slots=True)
class _Drawing:
    """A question being answered: its arrays, the rota known before, what faults cost."""

    question: Question
    arrays: Arrays
    before: Ints
    prices: NDArray[np.float64]
    seed: int

    def annealed(self, first: Taken, tries: int, searching: Rounds = ()) -> Taken:
        """The best rota found from a first one; ``searching`` comes before the other rounds where it is not whole."""
        rounds = _ROUNDS if _is_whole(self.question, first) else (*searching, *_ROUNDS)
        random = seeded(self.seed)
        holder = _within(self.question, self.arrays, first)
        best = holder.copy()
        for hot, dearer in rounds if tries else ():
            weights = self.prices.copy()
            weights[TOO_MUCH_WEIGHT] *= dearer
            state = new_state(self.arrays)
            set_out(self.arrays, state, holder)
            anneal(self.arrays, state, self.before, weights, random, best, hot, tries // len(rounds))
            holder = best.copy()
        return bearable(self.question, [None if one == NOBODY else int(one) for one in best])

    def in_blocks(self, drawn: Taken, blocks: Taken, tries: int) -> Taken:
        """The best rota found from one whose watches are in blocks; around what then stays empty, from ``drawn``.

        Blocks leave people fewer ways to make room for each other, so that a full hour may end with an empty seat.
        """
        part = tries // (2 * _MENDED_AT_MOST + len(_REACHES_MINUTES) + 1)
        best, left = blocks, tries
        for _ in range(_MENDED_AT_MOST):
            best = self.annealed(best, 2 * part, _MENDING)
            left -= 2 * part
            if not unfilled_minutes(self.question, best):
                return self.annealed(best, left)
        for reach in _REACHES_MINUTES:
            mended = bearable(self.question, _around_holes(self.question, best, drawn, reach))
            best = min(best, self.annealed(mended, part, _MENDING), key=self.worth)
            left -= part
            if not unfilled_minutes(self.question, best):
                break
        return min(best, self.annealed(best, left, _MENDING), key=self.worth)

    def worth(self, taken: Taken) -> tuple[int, float]:
        """Less is better: minutes that nobody fills, then everything else."""
        state = new_state(self.arrays)
        set_out(self.arrays, state, _numbers(taken))
        return unfilled_minutes(self.question, taken), cost_of(self.arrays, state, self.before, self.prices)


def _around_holes(question: Question, taken: Taken, drawn: Taken, reach_minutes: int) -> Taken:
    """The rota, with what lies so near to an empty seat as another rota has it."""
    holes = [
        Span(seat.start - reach_minutes, seat.end + reach_minutes)
        for seat, holder in zip(question.seats, taken, strict=True)
        if holder is None and not seat.optional
    ]
    return tuple(
        other if any(hole.meets(Span(seat.start, seat.end)) for hole in holes) else one
        for seat, one, other in zip(question.seats, taken, drawn, strict=True)
    )


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
