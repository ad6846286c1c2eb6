"""First answers to how few people can take all seats: quick ones, from which the search goes on."""

from __future__ import annotations

import heapq
from bisect import bisect_right
from collections.abc import Collection, Mapping, Sequence

from scheduler.rota.question import Question

# A seat is worth the more the fewer may take it; its minutes decide among equals.
_WORTH_OF_A_MINUTE = 1e-4


def first_answers(question: Question) -> list[dict[int, int]]:
    """Who takes which seat, in ways that may leave seats out where they fail."""
    return [_by_the_clock(question), _by_the_person(question)]


def _by_the_clock(question: Question) -> dict[int, int]:
    """Seats in the order of their starts, each to somebody in use who is free, the one who came free last."""
    free_at: dict[int, int] = {}
    holder: dict[int, int] = {}
    for number in sorted(range(len(question.seats)), key=lambda one: question.seats[one].start):
        seat = question.seats[number]
        able = [person for person in seat.able if free_at.get(person, seat.start) <= seat.start]
        if able:
            holder[number] = max(able, key=lambda one: (one in free_at, free_at.get(one, 0), -one))
            free_at[holder[number]] = seat.end
    return holder


def _by_the_person(question: Question) -> dict[int, int]:
    """One person after the other, always whoever can take most of what is left: what many can do counts for less."""
    able: list[list[int]] = [[] for _ in question.helpers]
    for number in sorted(range(len(question.seats)), key=lambda one: question.seats[one].end):
        for person in question.seats[number].able:
            able[person].append(number)
    worth = {
        number: 1 / len(seat.able) + _WORTH_OF_A_MINUTE * seat.minutes
        for number, seat in enumerate(question.seats)
        if seat.able
    }
    left = set(worth)
    holder: dict[int, int] = {}
    heap = [(-_day_of(question, seats, left, worth)[0], person) for person, seats in enumerate(able)]
    heapq.heapify(heap)
    while heap and left:
        _, person = heapq.heappop(heap)
        value, taken = _day_of(question, able[person], left, worth)
        if heap and value < -heap[0][0] - 1e-12:
            heapq.heappush(heap, (-value, person))  # Somebody else may do more by now.
            continue
        holder.update(dict.fromkeys(taken, person))
        left.difference_update(taken)
    return holder


def _day_of(
    question: Question, seats: Sequence[int], left: Collection[int], worth: Mapping[int, float]
) -> tuple[float, list[int]]:
    """The worthiest seats of one person among those left, no two at once; ``seats`` are in the order of their ends."""
    mine = [number for number in seats if number in left]
    ends = [question.seats[number].end for number in mine]
    best: list[tuple[float, int, bool]] = [(0.0, 0, False)]
    for at, number in enumerate(mine):
        before = bisect_right(ends, question.seats[number].start, hi=at)
        value = best[before][0] + worth[number]
        best.append((value, before, True) if value > best[at][0] else (best[at][0], at, False))
    taken: list[int] = []
    at = len(mine)
    while at:
        _, before, takes = best[at]
        if takes:
            taken.append(mine[at - 1])
        at = before
    return best[-1][0], taken
