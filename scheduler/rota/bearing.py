"""Whether a person can bear what a rota asks, and the rota without what they cannot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduler.rota.question import Question, Taken
from scheduler.rota.strain import Work, faults


def work_of(question: Question, taken: Sequence[int | None], person: int) -> list[Work]:
    """A person's work in a rota, hand-overs included."""
    return _work(question, taken, _held(taken, person))


def starts(question: Question, taken: Sequence[int | None], number: int) -> int:
    """When the holder of a seat comes: sooner where the seat is taken over from somebody else."""
    seat = question.seats[number]
    if seat.follows is None or taken[seat.follows] in (None, taken[number]):
        return seat.start
    return seat.start - seat.overlap


def is_bearable(question: Question, taken: Sequence[int | None], person: int) -> bool:
    """True when a person can do all that a rota asks: in one place, here, rested."""
    return _is_bearable(question, taken, person, _held(taken, person))


def bearable(question: Question, taken: Sequence[int | None]) -> Taken:
    """The rota without what is too much: of a person's seats optional ones go first, pinned ones last.

    What is empty then goes to whoever can bear it, the longest first.
    """
    rota = _Rota(question, taken)
    for person in range(len(question.helpers)):
        rota.relieve(person)
    rota.fill()
    return tuple(rota.taken)


class _Rota:
    """A rota being mended, with the seats that each person holds."""

    def __init__(self, question: Question, taken: Sequence[int | None]) -> None:
        self.question = question
        self.taken = list(taken)
        self._pinned = {number for number, _ in question.pinned}
        self._held: list[set[int]] = [set() for _ in question.helpers]
        self._followers: dict[int, list[int]] = {}
        for number, seat in enumerate(question.seats):
            if seat.follows is not None:
                self._followers.setdefault(seat.follows, []).append(number)
            holder = self.taken[number]
            if holder is not None:
                self._held[holder].add(number)

    def relieve(self, person: int) -> None:
        """Take seats from a person until the rest is bearable."""
        while not self._is_bearable(person):
            worst = min(
                sorted(self._held[person]),
                key=lambda number: (
                    number in self._pinned,
                    not self.question.seats[number].optional,
                    self._without(person, number),
                ),
            )
            self._empty(worst)

    def fill(self) -> None:
        """Give empty seats to whoever can bear them."""
        empty = [number for number, holder in enumerate(self.taken) if holder is None]
        for number in sorted(empty, key=lambda one: -self.question.seats[one].minutes):
            for person in sorted(self.question.seats[number].able):
                if self._is_free(person, number) and self._may_have(person, number):
                    break

    def _is_free(self, person: int, number: int) -> bool:
        """True when the person is here and in no other place: a quick look before the thorough one."""
        seat, hours = self.question.seats[number], self.question.helpers[person].hours
        if hours is not None and not any(h.start <= seat.start and seat.end <= h.end for h in hours):
            return False
        others = (self.question.seats[other] for other in self._held[person])
        return not any(
            one.start < seat.end and seat.start < one.end and not (one.shared and seat.shared)
            for one in others
        )

    def _may_have(self, person: int, number: int) -> bool:
        """Give the seat to the person, if they and those who take over from them can bear it."""
        self.taken[number] = person
        self._held[person].add(number)
        people = {person} | {self.taken[one] for one in self._followers.get(number, ())}
        if all(one is None or self._is_bearable(one) for one in people):
            return True
        self._empty(number)
        return False

    def _empty(self, number: int) -> None:
        holder = self.taken[number]
        if holder is not None:
            self._held[holder].discard(number)
        self.taken[number] = None

    def _is_bearable(self, person: int) -> bool:
        return _is_bearable(self.question, self.taken, person, sorted(self._held[person]))

    def _without(self, person: int, number: int) -> tuple[bool, bool, int]:
        """How it is for a person without this seat: unbearable still, a watch lost, the minutes lost."""
        self._empty(number)
        still = not self._is_bearable(person)
        self.taken[number] = person
        self._held[person].add(number)
        seat = self.question.seats[number]
        return still, seat.shared, seat.minutes


def _held(taken: Sequence[int | None], person: int) -> list[int]:
    return [number for number, holder in enumerate(taken) if holder == person]


def _work(question: Question, taken: Sequence[int | None], held: Iterable[int]) -> list[Work]:
    seats = question.seats
    return [
        Work(starts(question, taken, number), seats[number].end, seats[number].place, seats[number].shared)
        for number in held
    ]


def _is_bearable(question: Question, taken: Sequence[int | None], person: int, held: Sequence[int]) -> bool:
    helper, work = question.helpers[person], _work(question, taken, held)
    if helper.hours is not None and not all(
        any(hours.start <= one.start and one.end <= hours.end for hours in helper.hours) for one in work
    ):
        return False
    if not _is_in_one_place(work, max(1, question.shared_limit)):
        return False
    return not faults(work, question.limits, helper.most_minutes)


def _is_in_one_place(work: Sequence[Work], shared_limit: int) -> bool:
    """True when at no moment there is work in two places, or more shared work than one person may have."""
    for at, one in enumerate(work):
        beside = 1
        for other in (*work[:at], *work[at + 1 :]):
            if other.start < one.end and one.start < other.end:
                if not (one.held and other.held):
                    return False
                beside += other.start <= one.start < other.end
        if beside > shared_limit:
            return False
    return True
