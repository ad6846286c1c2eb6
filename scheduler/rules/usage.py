"""How much of something is in use at once, and where a stretch of time is not covered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TypeVar

from scheduler.interval import Span, subtract

_Owner = TypeVar("_Owner")
Use = tuple[int, int, float]
"""From, to, how much."""


def overuse(uses: Sequence[Use], limit: float) -> tuple[int, float] | None:
    """The first minute at which more than ``limit`` is in use, and how much; None when there is none.

    The tolerance is for sums of square inches, which are floats.
    """
    for minute in sorted({start for start, _, _ in uses}):
        used = sum(amount for start, end, amount in uses if start <= minute < end)
        if used > limit + 1e-6:
            return minute, used
    return None


def clashes(stretches: Iterable[tuple[int, int, _Owner]]) -> Iterator[tuple[_Owner, _Owner, int]]:
    """Each two that overlap, with the first minute they share."""
    real = sorted((one for one in stretches if one[0] < one[1]), key=lambda one: one[:2])
    for index, (_, end, owner) in enumerate(real):
        for start, _, other in real[index + 1 :]:
            if start >= end:
                break
            yield owner, other, start


def first_gap(start: int, end: int, by: Iterable[tuple[int, int]]) -> int | None:
    """The first minute from ``start`` up to ``end`` that none of ``by`` covers; None when all are covered."""
    if end <= start:
        return None
    pieces = subtract([Span(start, end)], [Span(*piece) for piece in by if piece[0] < piece[1]])
    return pieces[0].start if pieces else None
