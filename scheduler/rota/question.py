"""The rota's question: seats with fixed times, and the people who may take them.

Nothing here knows of jars. A seat is one pair of hands at one place for a time; a plan's tasks become seats in
``of_plan``, and published staffing instances in ``staffing_file``. Times are whole minutes from any origin.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from scheduler.errors import BadRota
from scheduler.interval import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """One pair of hands at a place from a minute to another.

    ``able`` are the indexes of the people who may take it. ``follows`` is the index of the seat that this one goes on
    from, the same pair of hands a moment before: best kept by one person, handed over if need be. With ``overlap`` the
    newcomer then comes so many minutes before. Seats of the same ``shared`` kind may be held together by one person, up
    to ``Question.shared_limit``: one person watches several canners. An ``optional`` seat may stay empty.
    """

    id: str
    place: str
    start: int
    end: int
    able: frozenset[int]
    follows: int | None = None
    overlap: int = 0
    shared: bool = False
    optional: bool = False
    unpleasant: bool = False

    @property
    def minutes(self) -> int:
        """How long it is taken."""
        return self.end - self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class Helper:
    """Somebody who takes seats: when, how much at most in a day, where best, and what is carried from days before.

    ``hours`` None means always, which is how published staffing instances have it.
    """

    id: str
    hours: tuple[Span, ...] | None = None
    most_minutes: int | None = None
    likes: frozenset[str] = frozenset()
    carried_minutes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What nobody is asked beyond. None, or 0 for walking, means no such limit."""

    break_minutes: int = 0
    break_every_minutes: int | None = None
    meal_minutes: int = 0
    meal_after_minutes: int | None = None
    longest_shift_minutes: int | None = None
    rest_minutes: int = 0
    walking_minutes: int = 0
    day_minutes: int = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Seats, people and limits. ``pinned`` gives, by seat, the person whom the lead has put there."""

    helpers: tuple[Helper, ...]
    seats: tuple[Seat, ...]
    limits: Limits = field(default_factory=Limits)
    shared_limit: int = 1
    pinned: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        for number, seat in enumerate(self.seats):
            if seat.end <= seat.start:
                raise BadRota(f"Seat {seat.id} ends before it starts.", remedy="Let it end later.")
            if any(not 0 <= one < len(self.helpers) for one in seat.able):
                raise BadRota(
                    f"Seat {seat.id} names a person who is not there.", remedy="Count people from 0."
                )
            if seat.follows is not None and not 0 <= seat.follows < number:
                raise BadRota(
                    f"Seat {seat.id} goes on from no seat before it.", remedy="List seats in their order."
                )


Taken = tuple[int | None, ...]
"""Who takes each seat, by index, None where nobody does."""


def unfilled_minutes(question: Question, taken: Taken) -> int:
    """The minutes of seats that nobody takes, optional ones aside."""
    return sum(
        seat.minutes
        for seat, holder in zip(question.seats, taken, strict=True)
        if holder is None and not seat.optional
    )
