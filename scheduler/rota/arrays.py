"""A rota's question as flat arrays of whole numbers, as the compiled loops read it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.interval import Span, covered
from scheduler.rota.question import Helper, Question, Seat

Ints = NDArray[np.int64]

NOBODY = -1
NEVER = 1 << 40
"""Longer than any rota: the limit that is none."""

# Columns of Arrays.seat; BEFORE and AFTER are the seats it goes on from and that go on from it, or -1. After a DAY
# everybody has a night's rest: what somebody does in one touches the others only in their share of the work.
START, END, PLACE, SHARED, OPTIONAL, UNPLEASANT, BEFORE, AFTER, OVERLAP, DAY = range(10)
# Columns of Arrays.helper.
MOST, CARRIED = range(2)
# Places in Arrays.number.
BREAK, BREAK_EVERY, MEAL, MEAL_AFTER, LONGEST, REST, WALKING, SHARED_LIMIT, LONGEST_SEAT, DAYS = range(10)


class Arrays(NamedTuple):
    """The question. ``choices`` lists the people who may take each seat, ``early`` says who may come sooner."""

    seat: Ints  # [seat, column]
    helper: Ints  # [person, column]
    choices: Ints  # [seat, n], NOBODY after the last
    choice_count: Ints  # [seat]
    may: NDArray[np.bool_]  # [seat, person]: among the choices
    by_start: Ints  # the seats in the order of their starts
    rank: Ints  # [seat]: its place in that order
    early: NDArray[np.bool_]  # [seat, person]: here ``overlap`` minutes before, where it is taken over
    disliked: NDArray[np.bool_]  # [place, person]
    number: Ints


def arrays_of(question: Question) -> Arrays:
    """The same question in arrays: a pinned seat has one choice, and nobody may take a seat outside their hours."""
    pinned = dict(question.pinned)
    places = sorted({seat.place for seat in question.seats})
    after = {seat.follows: number for number, seat in enumerate(question.seats) if seat.follows is not None}
    rows = [_choices(question, number, pinned.get(number)) for number in range(len(question.seats))]
    may = np.zeros((len(rows), len(question.helpers)), dtype=np.bool_)
    choices = np.full((len(rows), max((len(row) for row in rows), default=0)), NOBODY, dtype=np.int64)
    for number, row in enumerate(rows):
        choices[number, : len(row)] = row
        may[number, row] = True
    days = _days(question)
    by_start = np.argsort([seat.start for seat in question.seats], kind="stable")
    return Arrays(
        seat=_rows(
            [
                [*_seat(seat, places, after.get(number)), days[number]]
                for number, seat in enumerate(question.seats)
            ],
            10,
        ),
        helper=_rows([_helper(one) for one in question.helpers], 2),
        choices=choices,
        choice_count=np.array([len(row) for row in rows], dtype=np.int64),
        may=may,
        by_start=by_start,
        rank=np.argsort(by_start),
        early=np.array(
            [
                [
                    seat.follows is not None and _is_here(one, seat.start - seat.overlap, seat.end)
                    for one in question.helpers
                ]
                for seat in question.seats
            ],
            dtype=np.bool_,
        ).reshape(len(rows), len(question.helpers)),
        disliked=np.array(
            [[bool(one.likes) and place not in one.likes for one in question.helpers] for place in places],
            dtype=np.bool_,
        ).reshape(len(places), len(question.helpers)),
        number=_numbers(question, 1 + max(days, default=0)),
    )


def may_take(question: Question, number: int, person: int) -> bool:
    """True when the person may take this seat at all and is here for it."""
    seat = question.seats[number]
    return person in seat.able and _is_here(question.helpers[person], seat.start, seat.end)


def _choices(question: Question, number: int, pinned: int | None) -> list[int]:
    if pinned is not None:
        return [pinned]
    return [person for person in sorted(question.seats[number].able) if may_take(question, number, person)]


def _is_here(helper: Helper, start: int, end: int) -> bool:
    return helper.hours is None or covered(Span(start, end), helper.hours)


def _seat(seat: Seat, places: list[str], after: int | None) -> list[int]:
    return [
        seat.start,
        seat.end,
        places.index(seat.place),
        int(seat.shared),
        int(seat.optional),
        int(seat.unpleasant),
        NOBODY if seat.follows is None else seat.follows,
        NOBODY if after is None else after,
        seat.overlap,
    ]


def _helper(helper: Helper) -> list[int]:
    return [NEVER if helper.most_minutes is None else helper.most_minutes, helper.carried_minutes]


def _days(question: Question) -> list[int]:
    """For each seat the day it is in: days lie so far apart that everybody is rested in between."""
    limits = question.limits
    rest = max(
        limits.rest_minutes or limits.day_minutes,
        limits.break_minutes,
        limits.meal_minutes,
        limits.walking_minutes,
    )
    days = [0] * len(question.seats)
    day, reached = 0, None
    for number in sorted(range(len(days)), key=lambda one: question.seats[one].start):
        seat = question.seats[number]
        if reached is not None and seat.start - seat.overlap - reached >= rest:
            day += 1
        reached = seat.end if reached is None else max(reached, seat.end)
        days[number] = day
    return days


def _numbers(question: Question, days: int) -> Ints:
    limits = question.limits

    def or_never(minutes: int | None) -> int:
        return NEVER if minutes is None else minutes

    return np.array(
        [
            limits.break_minutes,
            or_never(limits.break_every_minutes),
            limits.meal_minutes,
            or_never(limits.meal_after_minutes),
            or_never(limits.longest_shift_minutes),
            limits.rest_minutes or limits.day_minutes,
            limits.walking_minutes,
            question.shared_limit,
            max((seat.minutes for seat in question.seats), default=0),
            days,
        ],
        dtype=np.int64,
    )


def _rows(rows: list[list[int]], columns: int) -> Ints:
    return np.array(rows, dtype=np.int64).reshape(len(rows), columns)
