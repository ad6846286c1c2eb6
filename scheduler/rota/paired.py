"""A rota in which people hold watches together, as few minutes as can be: a start that small changes do not find."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from scheduler.interval import Span
from scheduler.rota.bearing import bearable
from scheduler.rota.pairing import pair_up
from scheduler.rota.question import Limits, Question, Seat, Taken
from scheduler.rota.strain import Work, busy_minutes, faults


def shares(question: Question) -> bool:
    """True when there are seats that one person may hold together with others."""
    return question.shared_limit > 1 and any(seat.shared and not seat.optional for seat in question.seats)


def least_shared_minutes(question: Question) -> int:
    """What shared seats take of all people's time at least, however they are held together and handed over."""
    seats = [seat for seat in question.seats if seat.shared and not seat.optional]
    able = frozenset[int]().union(*(seat.able for seat in seats))
    spans = [Span(seat.start, seat.end) for seat in seats]
    return pair_up(spans, question.shared_limit, _Until(question, able)).least_minutes


def paired(question: Question, taken: Taken) -> Taken:
    """The rota with its watches given out anew in blocks, and the rest as it was where that is still bearable.

    Pinned watches stay, and so do those that go on from or into one.
    """
    rows = list(_rows(question))
    able = frozenset[int]().union(*(question.seats[row[0]].able for row in rows))
    spans = [Span(question.seats[row[0]].start, question.seats[row[-1]].end) for row in rows]
    # A little shorter than may be: a rest can then come sooner or later.
    until = _Until(question, able, sooner=2 * question.limits.break_minutes)
    blocks = pair_up(spans, question.shared_limit, until, _Spared(question)).blocks
    given = _Given(question, taken, rows)
    for block in sorted(blocks, key=lambda block: spans[block[0]].start):
        given.give([seat for number in block for seat in rows[number]])
    return bearable(question, given.taken)


def _rows(question: Question) -> Iterator[list[int]]:
    """Shared seats that go on from each other, without those that somebody is pinned to."""
    rows: dict[int, list[int]] = {}
    for number, seat in enumerate(question.seats):
        if seat.shared and not seat.optional:
            row = rows.pop(seat.follows, []) if seat.follows is not None else []
            rows[number] = [*row, number]
    pinned = {number for number, _ in question.pinned}
    yield from (row for row in rows.values() if pinned.isdisjoint(row))


@dataclass(frozen=True, slots=True)
class _Until:
    """Till when somebody who begins at a minute may be at it: as long as anybody is here and needs no rest."""

    question: Question
    able: frozenset[int]
    sooner: int = 0

    def __call__(self, start: int) -> int:
        longest = start + max(0, _longest(self.question.limits) - self.sooner)
        here = [
            longest if hours is None else min(longest, one.end)
            for hours in (self.question.helpers[person].hours for person in self.able)
            for one in (hours if hours is not None else (Span(start, longest),))
            if one.start <= start < one.end
        ]
        return max(here, default=start)


def _work(seat: Seat) -> Work:
    return Work(seat.start, seat.end, seat.place, seat.shared)


class _Spared:
    """How many people are here and not needed for seats that each take one person."""

    def __init__(self, question: Question) -> None:
        single = [seat for seat in question.seats if not seat.shared and not seat.optional]
        self._begun = min(seat.start for seat in question.seats)
        self._people = [0] * (max(seat.end for seat in question.seats) - self._begun)
        always = Span(self._begun, self._begun + len(self._people))
        for helper in question.helpers:
            self._add(1, (always,) if helper.hours is None else helper.hours)
        self._add(-1, (Span(seat.start, seat.end) for seat in single))

    def __call__(self, moment: Span) -> int:
        return min(self._people[moment.start - self._begun : moment.end - self._begun])

    def _add(self, people: int, spans: Iterable[Span]) -> None:
        for span in spans:
            for minute in range(
                max(0, span.start - self._begun), min(len(self._people), span.end - self._begun)
            ):
                self._people[minute] += people


def _longest(limits: Limits) -> int:
    most = (limits.break_every_minutes, limits.meal_after_minutes, limits.longest_shift_minutes)
    return min((minutes for minutes in most if minutes is not None), default=limits.day_minutes)


class _Given:
    """A rota whose watches are given out block by block, each to whoever has least to do and can bear it."""

    def __init__(self, question: Question, taken: Taken, rows: Iterable[Sequence[int]]) -> None:
        self.question = question
        again = {seat for row in rows for seat in row}
        self.taken = [None if number in again else person for number, person in enumerate(taken)]
        self._watches: list[list[Work]] = [[] for _ in question.helpers]
        self._others: list[list[Work]] = [[] for _ in question.helpers]
        for number, person in enumerate(self.taken):
            if person is not None:
                work = _work(question.seats[number])
                (self._watches if work.held else self._others)[person].append(work)

    def give(self, block: Sequence[int]) -> None:
        """Give a block to somebody; where nobody can bear it, it stays empty."""
        seats = [self.question.seats[number] for number in block]
        work = [_work(seat) for seat in seats]
        span = Span(seats[0].start, max(seat.end for seat in seats))
        able = frozenset.intersection(*(seat.able for seat in seats))
        people = [person for person in sorted(able) if self._can(person, span, work)]
        if people:
            person = min(people, key=lambda one: self._burden(one, span))
            self._watches[person].extend(work)
            for number in block:
                self.taken[number] = person

    def _can(self, person: int, span: Span, work: Sequence[Work]) -> bool:
        helper, watches = self.question.helpers[person], self._watches[person]
        here = helper.hours is None or any(hours.holds(span) for hours in helper.hours)
        busy = any(one.start < span.end and span.start < one.end for one in watches)
        return here and not busy and not faults([*watches, *work], self.question.limits, helper.most_minutes)

    def _burden(self, person: int, span: Span) -> tuple[int, int]:
        """Minutes of other work that would have to go, and the minutes done by then."""
        others = self._others[person]
        gone = [one for one in others if one.start < span.end and span.start < one.end]
        work = [*self._watches[person], *others]
        return sum(one.end - one.start for one in gone), busy_minutes(work)
