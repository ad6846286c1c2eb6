"""What one person's seats cost, compiled: too much in minutes, the work done, and what is against the grain."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from scheduler.compiled import compiled_inline, compiled_part
from scheduler.rota.arrays import (
    BEFORE,
    BREAK,
    BREAK_EVERY,
    CARRIED,
    END,
    LONGEST,
    LONGEST_SEAT,
    MEAL,
    MEAL_AFTER,
    MOST,
    NOBODY,
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
    """A rota being made: who holds each seat, each person's seats in the order of their starts, what they cost."""

    holder: Ints  # [seat]
    held: Ints  # [person, n]
    counts: Ints  # [person]
    cost: Ints  # [person, column]


def new_state(arrays: Arrays) -> State:
    """Everybody idle."""
    seats, people = len(arrays.seat), len(arrays.helper)
    return State(
        holder=np.full(seats, NOBODY, dtype=np.int64),
        held=np.zeros((people, seats), dtype=np.int64),
        counts=np.zeros(people, dtype=np.int64),
        cost=np.zeros((people, COST_COLUMNS), dtype=np.int64),
    )


@compiled_inline
def hold(arrays: Arrays, state: State, seat: int, person: int) -> None:
    """Give an empty seat to a person."""
    state.holder[seat] = person
    at: int = state.counts[person]
    while at > 0 and arrays.seat[state.held[person, at - 1], START] > arrays.seat[seat, START]:
        state.held[person, at] = state.held[person, at - 1]
        at -= 1
    state.held[person, at] = seat
    state.counts[person] += 1


@compiled_inline
def drop(state: State, seat: int) -> None:
    """Empty a seat that somebody holds."""
    person: int = state.holder[seat]
    state.holder[seat] = NOBODY
    at = 0
    while state.held[person, at] != seat:
        at += 1
    for place in range(at, state.counts[person] - 1):
        state.held[person, place] = state.held[person, place + 1]
    state.counts[person] -= 1


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
def weigh(arrays: Arrays, state: State, person: int) -> None:
    """Work out ``state.cost`` of one person anew."""
    cost = state.cost[person]
    cost[TOO_MUCH] = (
        _together(arrays, state, person)
        + _tired(arrays, state, person, arrays.number[BREAK], arrays.number[BREAK_EVERY])
        + _tired(arrays, state, person, arrays.number[MEAL], arrays.number[MEAL_AFTER])
    )
    cost[HARD] = 0
    cost[DISLIKED] = 0
    for place in range(state.counts[person]):
        seat = state.held[person, place]
        minutes: int = arrays.seat[seat, END] - arrays.seat[seat, START]
        cost[HARD] += minutes * arrays.seat[seat, UNPLEASANT]
        if arrays.disliked[arrays.seat[seat, PLACE], person]:
            cost[DISLIKED] += minutes
    _days(arrays, state, person)


@compiled_inline
def _together(arrays: Arrays, state: State, person: int) -> int:
    """Minutes in two places, at too many canners, not here yet, or on the way."""
    wrong = 0
    walking: int = arrays.number[WALKING]
    held = state.held[person]
    for place in range(state.counts[person]):
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
def _tired(arrays: Arrays, state: State, person: int, rest: int, every: int) -> int:
    """Minutes worked beyond ``every`` without a rest between; a single held seat may be longer."""
    wrong = 0
    begun = 0
    end = -1
    alone_end = -1
    for place in range(state.counts[person]):
        seat = state.held[person, place]
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
def _days(arrays: Arrays, state: State, person: int) -> None:
    """The minutes worked, what was carried with them; too long days and too much in one are too much."""
    cost = state.cost[person]
    longest: int = arrays.number[LONGEST]
    rest: int = arrays.number[REST]
    most: int = arrays.helper[person, MOST]
    cost[WORKED] = arrays.helper[person, CARRIED]
    begun = 0
    end = -1
    today = 0
    for place in range(state.counts[person]):
        seat = state.held[person, place]
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
