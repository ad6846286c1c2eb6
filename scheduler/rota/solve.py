"""Draws up a rota: from a first one, by annealing, to one in which nothing is too much for anybody.

Fewest unfilled minutes come first, then a fair share of the work and of the unpleasant work, then what people like,
then few hand-overs and few changes. What cannot be done without asking too much of somebody stays unfilled.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scheduler.chance import seeded
from scheduler.rota.anneal import TOO_MUCH_WEIGHT, WEIGHTS, anneal, set_out
from scheduler.rota.arrays import NOBODY, Arrays, Ints, arrays_of
from scheduler.rota.person import new_state
from scheduler.rota.question import Question, Taken
from scheduler.rota.strain import Work, faults

TRIES_PER_SECOND = 150_000
"""Changes tried for a second of effort: a measure of work that is the same on every machine."""

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
    arrays = arrays_of(question)
    known, random = _numbers(before), seeded(seed)
    holder = _within(question, arrays, first)
    best = holder.copy()
    rounds = _ROUNDS if calm or _is_whole(question, first) else (*_SEARCHING, *_ROUNDS)
    for hot, dearer in rounds if tries else ():
        weights = prices.copy()
        weights[TOO_MUCH_WEIGHT] *= dearer
        state = new_state(arrays)
        set_out(arrays, state, holder)
        anneal(arrays, state, known, weights, random, best, hot, tries // len(rounds))
        holder = best.copy()
    return _bearable(question, [None if one == NOBODY else int(one) for one in best])


def work_of(question: Question, taken: Sequence[int | None], person: int) -> list[Work]:
    """A person's work in a rota, hand-overs included."""
    return [
        Work(starts(question, taken, number), seat.end, seat.place, seat.shared)
        for number, seat in enumerate(question.seats)
        if taken[number] == person
    ]


def starts(question: Question, taken: Sequence[int | None], number: int) -> int:
    """When the holder of a seat comes: sooner where the seat is taken over from somebody else."""
    seat = question.seats[number]
    if seat.follows is None or taken[seat.follows] in (None, taken[number]):
        return seat.start
    return seat.start - seat.overlap


def is_bearable(question: Question, taken: Sequence[int | None], person: int) -> bool:
    """True when a person can do all that a rota asks: in one place, here, rested."""
    helper = question.helpers[person]
    held = [number for number, holder in enumerate(taken) if holder == person]
    spans = [(starts(question, taken, number), question.seats[number]) for number in held]
    if any(
        helper.hours is not None and not any(h.start <= start and seat.end <= h.end for h in helper.hours)
        for start, seat in spans
    ):
        return False
    for at, (start, seat) in enumerate(spans):
        beside = 1
        for other_start, other in spans[:at] + spans[at + 1 :]:
            if other_start < seat.end and start < other.end:
                if not (seat.shared and other.shared):
                    return False
                beside += other_start <= start < other.end
        if beside > max(1, question.shared_limit):
            return False
    return not faults(work_of(question, taken, person), question.limits, helper.most_minutes)


def _bearable(question: Question, taken: list[int | None]) -> Taken:
    """The rota without what is too much: of a person's seats optional ones go first, pinned ones last."""
    pinned = dict(question.pinned)
    for person in range(len(question.helpers)):
        while not is_bearable(question, taken, person):
            held = [number for number, holder in enumerate(taken) if holder == person]
            best = min(
                held,
                key=lambda number: (
                    number in pinned,
                    not question.seats[number].optional,
                    _left(question, taken, person, number),
                ),
            )
            taken[best] = None
    return _filled(question, taken)


def _is_whole(question: Question, taken: Taken) -> bool:
    """True when nothing is empty that should not be, and nothing too much for anybody."""
    return all(
        holder is not None or seat.optional for seat, holder in zip(question.seats, taken, strict=True)
    ) and all(is_bearable(question, taken, person) for person in range(len(question.helpers)))


def _left(question: Question, taken: list[int | None], person: int, number: int) -> tuple[bool, bool, int]:
    """How it is for a person without this seat: unbearable still, a watch lost, the minutes lost."""
    taken[number] = None
    still = not is_bearable(question, taken, person)
    taken[number] = person
    seat = question.seats[number]
    return still, seat.shared, seat.minutes


def _filled(question: Question, taken: list[int | None]) -> Taken:
    """Empty seats given to whoever can bear them, the longest first."""
    empty = [number for number, holder in enumerate(taken) if holder is None]
    for number in sorted(empty, key=lambda one: -question.seats[one].minutes):
        seat = question.seats[number]
        for person in sorted(seat.able):
            helper = question.helpers[person]
            if helper.hours is not None and not any(
                h.start <= seat.start and seat.end <= h.end for h in helper.hours
            ):
                continue
            taken[number] = person
            follower = [one for one, other in enumerate(question.seats) if other.follows == number]
            people = {person} | {taken[one] for one in follower} - {None}
            if all(one is None or is_bearable(question, taken, one) for one in people):
                break
            taken[number] = None
    return tuple(taken)


def _within(question: Question, arrays: Arrays, first: Taken) -> Ints:
    """A first rota that only uses people who may: whoever may not take a seat is not put there."""
    holder = _numbers(first)
    for number in range(len(question.seats)):
        choices = arrays.choices[number, : arrays.choice_count[number]]
        if holder[number] not in choices:
            holder[number] = choices[0] if dict(question.pinned).get(number) is not None else NOBODY
    return holder


def _numbers(taken: Taken) -> Ints:
    return np.array([NOBODY if one is None else one for one in taken], dtype=np.int64)
