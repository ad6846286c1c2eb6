"""Half-open spans of whole minutes, ``[start, end)``, counted from a day's origin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """The minutes from ``start`` up to, not including, ``end``. Never empty."""

    start: int
    end: int

    def __post_init__(self) -> None:
        if self.end <= self.start:
            raise ValueError(f"a span must end after it starts, not [{self.start}, {self.end})")

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return self.end - self.start

    def holds(self, other: Span) -> bool:
        """True when ``other`` lies wholly inside this span."""
        return self.start <= other.start and other.end <= self.end

    def meets(self, other: Span) -> bool:
        """True when the two share at least one minute; touching ends share none."""
        return self.start < other.end and other.start < self.end


def merge(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same minutes as sorted, disjoint, non-touching spans."""
    merged: list[Span] = []
    for span in sorted(spans):
        if merged and span.start <= merged[-1].end:
            merged[-1] = Span(merged[-1].start, max(merged[-1].end, span.end))
        else:
            merged.append(span)
    return tuple(merged)


def subtract(spans: Iterable[Span], holes: Iterable[Span]) -> tuple[Span, ...]:
    """The minutes of ``spans`` that lie in none of ``holes``."""
    kept = list(merge(spans))
    for hole in merge(holes):
        kept = [piece for span in kept for piece in _without(span, hole)]
    return tuple(kept)


def intersect(left: Iterable[Span], right: Iterable[Span]) -> tuple[Span, ...]:
    """The minutes that lie in both."""
    right_merged = merge(right)
    return tuple(
        Span(max(a.start, b.start), min(a.end, b.end))
        for a in merge(left)
        for b in right_merged
        if a.meets(b)
    )


def covered(span: Span, by: Iterable[Span]) -> bool:
    """True when every minute of ``span`` lies in one of ``by`` (touching pieces count as one)."""
    return any(piece.holds(span) for piece in merge(by))


def _without(span: Span, hole: Span) -> Iterator[Span]:
    if not span.meets(hole):
        yield span
        return
    if span.start < hole.start:
        yield Span(span.start, hole.start)
    if hole.end < span.end:
        yield Span(hole.end, span.end)
