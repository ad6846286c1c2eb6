"""The changes that are tried on a rota, compiled: who could take which seats instead."""

from __future__ import annotations

from scheduler.chance import below
from scheduler.compiled import compiled_inline, compiled_part
from scheduler.rota.arrays import AFTER, DAY, END, NOBODY, OPTIONAL, START, Arrays, Ints
from scheduler.rota.person import State

# The most seats that one change moves.
MOST_SEATS = 24
# The most seats in a chain of people who make room for each other.
_LONGEST_CHAIN = 6
# So many seats before and after one in time are near it.
_NEAR = 100


@compiled_inline
def _empty_from(arrays: Arrays, state: State, seat: int) -> int:
    """The first seat from this one on that should not be empty and is."""
    seats = len(state.holder)
    for step in range(seats):
        one = (seat + step) % seats
        if state.holder[one] == NOBODY and not arrays.seat[one, OPTIONAL]:
            return one
    return seat


@compiled_inline
def _near(arrays: Arrays, random: Ints, seat: int) -> int:
    """A seat not long before or after this one."""
    at: int = arrays.rank[seat] + below(random, 2 * _NEAR) - _NEAR
    near: int = arrays.by_start[min(len(arrays.by_start) - 1, max(0, at))]
    return near


@compiled_inline
def _seat_to_change(arrays: Arrays, state: State, random: Ints) -> int:
    """Any seat; while some are empty mostly one of them, or one near it."""
    seat = below(random, len(arrays.seat))
    if state.empty[0]:
        where = below(random, 8)
        if where < 5:
            seat = _empty_from(arrays, state, seat)
        if 0 < where < 5:
            seat = _near(arrays, random, seat)
    return seat


@compiled_part
def choose(arrays: Arrays, state: State, random: Ints, seats: Ints, to: Ints) -> bool:
    """A change: ``seats`` go to ``to``. False when there is none of this kind."""
    for at in range(len(seats)):
        seats[at] = NOBODY
    seat = _seat_to_change(arrays, state, random)
    if arrays.choice_count[seat] == 0:
        return False
    person: int = arrays.choices[seat, below(random, arrays.choice_count[seat])]
    holder: int = state.holder[seat]
    kind = below(random, 5)
    seats[0] = seat
    to[0] = person
    if person == holder:  # Better nobody than too much for somebody.
        to[0] = NOBODY
        kind = 0
    if kind == 0:
        return True
    if kind == 1:
        return _choose_row(arrays, state, seats, to)
    if kind == 4:
        return holder != NOBODY and _choose_swap(arrays, state, seats, to)
    if kind == 3:
        return _choose_chain(arrays, state, random, seats, to)
    return _choose_exchange(arrays, state, seats, to)


@compiled_part
def _choose_row(arrays: Arrays, state: State, seats: Ints, to: Ints) -> bool:
    """The seats that go on from the first go with it, as far as one person holds them and the other may."""
    holder: int = state.holder[seats[0]]
    after: int = arrays.seat[seats[0], AFTER]
    at = 1
    while at < len(seats) and after != NOBODY and state.holder[after] == holder and arrays.may[after, to[0]]:
        seats[at] = after
        to[at] = to[0]
        at += 1
        after = arrays.seat[after, AFTER]
    return True


@compiled_part
def _choose_swap(arrays: Arrays, state: State, seats: Ints, to: Ints) -> bool:
    """Two people change all that they hold from a moment on until neither is at anything begun before."""
    holder: int = state.holder[seats[0]]
    person: int = to[0]
    day: int = arrays.seat[seats[0], DAY]
    begun: int = arrays.seat[seats[0], START]
    end: int = arrays.seat[seats[0], END]
    at = 0
    known = 0
    while known != end - begun:
        known = end - begun
        at = 0
        for one, other in ((holder, person), (person, holder)):
            for place in range(state.counts[day, one]):
                seat: int = state.held[day, one, place]
                if arrays.seat[seat, START] >= end:
                    break
                if arrays.seat[seat, END] <= begun:
                    continue
                if at == len(seats) or not arrays.may[seat, other]:
                    return False
                seats[at] = seat
                to[at] = other
                at += 1
                begun = min(begun, arrays.seat[seat, START])
                end = max(end, arrays.seat[seat, END])
    return True


@compiled_inline
def _meet(arrays: Arrays, one: int, other: int) -> bool:
    """True when two seats are taken at the same time."""
    met: bool = (
        arrays.seat[one, START] < arrays.seat[other, END]
        and arrays.seat[other, START] < arrays.seat[one, END]
    )
    return met


@compiled_part
def _choose_exchange(arrays: Arrays, state: State, seats: Ints, to: Ints) -> bool:
    """Whatever the newcomer holds at the same time goes back to whoever held the first seat."""
    holder: int = state.holder[seats[0]]
    person: int = to[0]
    day: int = arrays.seat[seats[0], DAY]
    at = 1
    for place in range(state.counts[day, person]):
        other: int = state.held[day, person, place]
        if not _meet(arrays, other, seats[0]):
            continue
        if at == len(seats) or holder == NOBODY or not arrays.may[other, holder]:
            return False
        seats[at] = other
        to[at] = holder
        at += 1
    return True


@compiled_part
def _choose_chain(arrays: Arrays, state: State, random: Ints, seats: Ints, to: Ints) -> bool:
    """Whatever the newcomer holds at the same time goes to somebody free, or to anybody who makes room likewise."""
    day: int = arrays.seat[seats[0], DAY]
    count = 1
    at = 0
    while at < count:
        for place in range(state.counts[day, to[at]]):
            other: int = state.held[day, to[at], place]
            if not _meet(arrays, other, seats[at]):
                continue
            for known in range(count):
                if seats[known] == other:
                    return False
            if count == _LONGEST_CHAIN:
                return False
            seats[count] = other
            to[count] = _somebody(arrays, state, random, other)
            count += 1
        at += 1
    return True


@compiled_part
def _somebody(arrays: Arrays, state: State, random: Ints, seat: int) -> int:
    """Somebody who may take the seat: who has nothing else then, or else anybody."""
    day: int = arrays.seat[seat, DAY]
    choices: int = arrays.choice_count[seat]
    first = below(random, choices)
    for step in range(choices):
        person: int = arrays.choices[seat, (first + step) % choices]
        free = True
        for place in range(state.counts[day, person]):
            free = free and not _meet(arrays, state.held[day, person, place], seat)
        if free:
            return person
    anybody: int = arrays.choices[seat, first]
    return anybody
