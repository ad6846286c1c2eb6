"""What one person's seats cost, compiled: too much in minutes, the work done, and what is against the grain."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from scheduler.compiled import compiled_inline, compiled_part
from scheduler.rota.arrays import (
    BEFORE,
    BREAK,
    BREAK_EVERY,
    DAY,
    DAYS,
    END,
    LONGEST,
    LONGEST_SEAT,
    MEAL,
    MEAL_AFTER,
    MOST,
    NOBODY,
    OPTIONAL,
    OVERLAP,
    PLACE,
    REST,
    SHARED,
    SHARED_LIMIT,
    START,
    UNPLEASANT,
    WALKING,
    Arrays,
    Ints,
)

# Columns of State.cost.
TOO_MUCH, WORKED, HARD, DISLIKED = range(4)
COST_COLUMNS = 4


class State(NamedTuple):
    """A rota being made: who holds each seat, each person's seats of a day in the order of their starts, what they
    cost.
    """

    holder: Ints  # [seat]
    held: Ints  # [day, person, n]
    counts: Ints  # [day, person]
    cost: Ints  # [day, person, column]
    empty: Ints  # how many seats nobody holds that somebody should


def new_state(arrays: Arrays) -> State:
    """Everybody idle."""
    people, days = len(arrays.helper), int(arrays.number[DAYS])
    most = max(np.bincount(arrays.seat[:, DAY]), default=0)
    return State(
        holder=np.full(len(arrays.seat), NOBODY, dtype=np.int64),
        held=np.zeros((days, people, most), dtype=np.int64),
        counts=np.zeros((days, people), dtype=np.int64),
        cost=np.zeros((days, people, COST_COLUMNS), dtype=np.int64),
        empty=np.array([np.sum(arrays.seat[:, OPTIONAL] == 0)], dtype=np.int64),
    )


@compiled_inline
def hold(arrays: Arrays, state: State, seat: int, person: int) -> None:
    """Give an empty seat to a person."""
    state.holder[seat] = person
    state.empty[0] -= 1 - arrays.seat[seat, OPTIONAL]
    day: int = arrays.seat[seat, DAY]
    held = state.held[day, person]
    at: int = state.counts[day, person]
    while at > 0 and arrays.seat[held[at - 1], START] > arrays.seat[seat, START]:
        held[at] = held[at - 1]
        at -= 1
    held[at] = seat
    state.counts[day, person] += 1


@compiled_inline
def drop(arrays: Arrays, state: State, seat: int) -> None:
    """Empty a seat that somebody holds."""
    person: int = state.holder[seat]
    day: int = arrays.seat[seat, DAY]
    held = state.held[day, person]
    state.holder[seat] = NOBODY
    state.empty[0] += 1 - arrays.seat[seat, OPTIONAL]
    at = 0
    while held[at] != seat:
        at += 1
    for place in range(at, state.counts[day, person] - 1):
        held[place] = held[place + 1]
    state.counts[day, person] -= 1


@compiled_inline
def starts(arrays: Arrays, state: State, seat: int) -> int:
    """When its holder comes: before the start, where the seat is taken over from somebody else."""
    before: int = arrays.seat[seat, BEFORE]
    start: int = arrays.seat[seat, START]
    if before == NOBODY or state.holder[before] == state.holder[seat] or state.holder[before] == NOBODY:
        return start
    sooner: int = arrays.seat[seat, OVERLAP]
    return start - sooner


@compiled_part
def weigh(arrays: Arrays, state: State, day: int, person: int) -> None:
    """Work out ``state.cost`` of one person's day anew."""
    cost = state.cost[day, person]
    cost[TOO_MUCH] = (
        _together(arrays, state, day, person)
        + _tired(arrays, state, day, person, arrays.number[BREAK], arrays.number[BREAK_EVERY])
        + _tired(arrays, state, day, person, arrays.number[MEAL], arrays.number[MEAL_AFTER])
    )
    cost[HARD] = 0
    cost[DISLIKED] = 0
    for place in range(state.counts[day, person]):
        seat = state.held[day, person, place]
        minutes: int = arrays.seat[seat, END] - arrays.seat[seat, START]
        cost[HARD] += minutes * arrays.seat[seat, UNPLEASANT]
        if arrays.disliked[arrays.seat[seat, PLACE], person]:
            cost[DISLIKED] += minutes
    _days(arrays, state, day, person)


@compiled_inline
def _together(arrays: Arrays, state: State, day: int, person: int) -> int:
    """Minutes in two places, at too many canners, not here yet, or on the way."""
    wrong = 0
    walking: int = arrays.number[WALKING]
    held = state.held[day, person]
    for place in range(state.counts[day, person]):
        seat = held[place]
        start = starts(arrays, state, seat)
        if start < arrays.seat[seat, START] and not arrays.early[seat, person]:
            wrong += arrays.seat[seat, START] - start
        beside = 1
        for back in range(1, place + 1):
            other = held[place - back]
            if arrays.seat[other, START] < start - arrays.number[LONGEST_SEAT] - walking:
                break
            end: int = arrays.seat[other, END]
            if end > start:
                if not (arrays.seat[other, SHARED] and arrays.seat[seat, SHARED]):
                    wrong += min(end, arrays.seat[seat, END]) - start
                else:
                    beside += 1
                    if beside > arrays.number[SHARED_LIMIT]:
                        wrong += min(end, arrays.seat[seat, END]) - start
            elif start < end + walking and arrays.seat[other, PLACE] != arrays.seat[seat, PLACE]:
                wrong += end + walking - start
    return wrong


@compiled_inline
def _tired(arrays: Arrays, state: State, day: int, person: int, rest: int, every: int) -> int:
    """Minutes worked beyond ``every`` without a rest between; a single held seat may be longer."""
    wrong = 0
    begun = 0
    end = -1
    alone_end = -1
    for place in range(state.counts[day, person]):
        seat = state.held[day, person, place]
        start = starts(arrays, state, seat)
        if end < 0 or start - end >= rest:
            if end >= 0 and end > alone_end:
                wrong += max(0, end - begun - every)
            begun = start
            end = arrays.seat[seat, END]
            alone_end = end if arrays.seat[seat, SHARED] else -1
        else:
            begun = min(begun, start)
            if start == begun and arrays.seat[seat, SHARED]:
                alone_end = max(alone_end, arrays.seat[seat, END])
            end = max(end, arrays.seat[seat, END])
    if end >= 0 and end > alone_end:
        wrong += max(0, end - begun - every)
    return wrong


@compiled_inline
def _days(arrays: Arrays, state: State, day: int, person: int) -> None:
    """The minutes worked; too long days and too much in one are too much."""
    cost = state.cost[day, person]
    longest: int = arrays.number[LONGEST]
    rest: int = arrays.number[REST]
    most: int = arrays.helper[person, MOST]
    cost[WORKED] = 0
    begun = 0
    end = -1
    today = 0
    for place in range(state.counts[day, person]):
        seat = state.held[day, person, place]
        start = starts(arrays, state, seat)
        if end < 0 or start - end >= rest:
            if end >= 0:
                cost[TOO_MUCH] += max(0, end - begun - longest) + max(0, today - most)
            begun = start
            today = 0
            end = start
        minutes = max(0, arrays.seat[seat, END] - max(start, end))
        end = max(end, arrays.seat[seat, END])
        today += minutes
        cost[WORKED] += minutes
    if end >= 0:
        cost[TOO_MUCH] += max(0, end - begun - longest) + max(0, today - most)
