"""The compiled loop: give a seat to somebody else, or let two people change seats, and keep it when it is better."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scheduler.chance import share
from scheduler.compiled import compiled, compiled_inline, compiled_part
from scheduler.rota.arrays import (
    AFTER,
    BEFORE,
    CARRIED,
    DAY,
    END,
    NOBODY,
    OPTIONAL,
    SHARED,
    START,
    Arrays,
    Ints,
)
from scheduler.rota.changes import MOST_SEATS, choose
from scheduler.rota.person import COST_COLUMNS, DISLIKED, HARD, TOO_MUCH, WORKED, State, drop, hold, weigh

# Places in the weights.
EMPTY_WEIGHT, TOO_MUCH_WEIGHT, FAIR_WEIGHT, HARD_WEIGHT, DISLIKED_WEIGHT, HAND_OVER_WEIGHT, CHANGE_WEIGHT = (
    range(7)
)
WEIGHTS = np.array([400.0, 400.0, 0.01, 0.003, 0.2, 8.0, 0.1])
"""What a minute costs that nobody fills, that is too much, squared work and squared unpleasant work, a minute against
what somebody likes, a hand-over, a minute changed from the rota before. The first two outweigh the others together; a
watch that nobody holds counts ten times (rule S9)."""
KNOWN_WEIGHTS = WEIGHTS.copy()
KNOWN_WEIGHTS[[DISLIKED_WEIGHT, CHANGE_WEIGHT]] = 1.2, 0.5
"""The same for a rota that people know already: little is gained by changing much of it, and what somebody
likes is worth a change of two people. ``python -m scheduler rota`` prints how much of the work changed hands."""
STILL_WEIGHTS = WEIGHTS.copy()
STILL_WEIGHTS[CHANGE_WEIGHT] = 10.0
"""The same where only what must change is to change: a minute costs more than sharing it out better can gain."""
_WATCH_FACTOR = 10.0
_COLDEST = 0.5


@compiled
def set_out(arrays: Arrays, state: State, holder: Ints) -> None:
    """Seat people as ``holder`` says."""
    for seat in range(len(holder)):
        if holder[seat] != NOBODY:
            hold(arrays, state, seat, holder[seat])
    for day in range(len(state.counts)):
        for person in range(len(state.counts[day])):
            weigh(arrays, state, day, person)


@compiled_inline
def _person_cost(arrays: Arrays, state: State, weights: NDArray[np.float64], person: int) -> float:
    worked = float(arrays.helper[person, CARRIED])
    hard = 0.0
    total = 0.0
    for day in range(len(state.cost)):
        cost = state.cost[day, person]
        worked += cost[WORKED]
        hard += cost[HARD]
        total += weights[TOO_MUCH_WEIGHT] * cost[TOO_MUCH] + weights[DISLIKED_WEIGHT] * cost[DISLIKED]
    fair: float = weights[FAIR_WEIGHT] * worked * worked + weights[HARD_WEIGHT] * hard * hard
    return total + fair


@compiled_inline
def _seat_cost(arrays: Arrays, state: State, before: Ints, weights: NDArray[np.float64], seat: int) -> float:
    """What lies in the seat itself: empty, handed over at its start, changed from before."""
    row = arrays.seat[seat]
    minutes = float(row[END] - row[START])
    holder: int = state.holder[seat]
    if holder == NOBODY:
        if row[OPTIONAL]:
            return 0.0
        empty: float = weights[EMPTY_WEIGHT] * minutes
        return empty * _WATCH_FACTOR if row[SHARED] else empty
    cost = 0.0
    if row[OPTIONAL]:
        cost -= minutes
    if row[BEFORE] != NOBODY and state.holder[row[BEFORE]] != holder:
        cost += weights[HAND_OVER_WEIGHT]
    if before[seat] != NOBODY and before[seat] != holder:
        cost += weights[CHANGE_WEIGHT] * minutes
    return cost


@compiled
def cost_of(arrays: Arrays, state: State, before: Ints, weights: NDArray[np.float64]) -> float:
    """What a whole rota costs."""
    total = 0.0
    for person in range(len(arrays.helper)):
        total += _person_cost(arrays, state, weights, person)
    for seat in range(len(arrays.seat)):
        total += _seat_cost(arrays, state, before, weights, seat)
    return total


@compiled_inline
def _touched(arrays: Arrays, state: State, people: Ints, seats: Ints) -> int:
    """Write down who is touched by changes at ``seats``: their holders and who goes on from them."""
    count = 0
    for at in range(len(seats)):
        seat = seats[at]
        if seat == NOBODY:
            break
        for one in (seat, arrays.seat[seat, AFTER]):
            person: int = NOBODY if one == NOBODY else state.holder[one]
            known = person == NOBODY
            for place in range(count):
                known = known or people[place] == person
            if not known:
                people[count] = person
                count += 1
    return count


@compiled_inline
def _sum(
    arrays: Arrays,
    state: State,
    before: Ints,
    weights: NDArray[np.float64],
    people: Ints,
    count: int,
    seats: Ints,
) -> float:
    total = 0.0
    for place in range(count):
        total += _person_cost(arrays, state, weights, people[place])
    for at in range(len(seats)):
        seat = seats[at]
        if seat == NOBODY:
            break
        total += _seat_cost(arrays, state, before, weights, seat)
        after: int = arrays.seat[seat, AFTER]
        if after != NOBODY:
            known = False
            for place in range(len(seats)):
                known = known or seats[place] == after
            if not known:
                total += _seat_cost(arrays, state, before, weights, after)
    return total


@compiled_part
def _give(arrays: Arrays, state: State, seat: int, person: int) -> None:
    if state.holder[seat] != NOBODY:
        drop(arrays, state, seat)
    if person != NOBODY:
        hold(arrays, state, seat, person)


@compiled_part
def _with_newcomers(people: Ints, count: int, seats: Ints, to: Ints) -> int:
    """Add who comes to the seats to the people who are touched."""
    for at in range(len(seats)):
        known = seats[at] == NOBODY or to[at] == NOBODY
        for place in range(count):
            known = known or people[place] == to[at]
        if not known:
            people[count] = to[at]
            count += 1
    return count


@compiled_part
def _move(arrays: Arrays, state: State, seats: Ints, to: Ints) -> None:
    """Give the seats to these people. ``to`` is left with who held them."""
    for at in range(len(seats)):
        if seats[at] == NOBODY:
            break
        was: int = state.holder[seats[at]]
        _give(arrays, state, seats[at], to[at])
        to[at] = was


@compiled
def anneal(
    arrays: Arrays,
    state: State,
    before: Ints,
    weights: NDArray[np.float64],
    random: Ints,
    best: Ints,
    hot: float,
    tries: int,
) -> float:
    """Try so many changes, getting colder; ``best`` is left with who holds each seat in the best rota. Its gain."""
    seats = np.full(MOST_SEATS, NOBODY, dtype=np.int64)
    to = np.full(MOST_SEATS, NOBODY, dtype=np.int64)
    people = np.zeros(3 * MOST_SEATS, dtype=np.int64)
    costs = np.zeros((3 * MOST_SEATS, COST_COLUMNS), dtype=np.int64)
    gained = 0.0
    most = 0.0
    best[:] = state.holder
    for turn in range(tries):
        if not choose(arrays, state, random, seats, to):
            continue
        count = _with_newcomers(people, _touched(arrays, state, people, seats), seats, to)
        gain = _sum(arrays, state, before, weights, people, count, seats)
        _move(arrays, state, seats, to)
        day: int = arrays.seat[seats[0], DAY]
        for place in range(count):
            costs[place] = state.cost[day, people[place]]
            weigh(arrays, state, day, people[place])
        gain -= _sum(arrays, state, before, weights, people, count, seats)
        warmth = hot * (_COLDEST / hot) ** (turn / tries)
        if gain < 0 and share(random) >= np.exp(gain / warmth):
            _move(arrays, state, seats, to)
            for place in range(count):
                state.cost[day, people[place]] = costs[place]
            continue
        gained += gain
        if gained > most + 1e-9:
            most = gained
            best[:] = state.holder
    return most
