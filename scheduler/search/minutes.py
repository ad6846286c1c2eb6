"""Minutes of a day as the bits of one whole number: bit ``m`` is set when minute ``m`` belongs.

A day is some thousand bits, so "when could this begin?" is a handful of shifts and ands. That is what makes a
decoder in plain Python fast enough to try thousands of days in seconds.
"""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.interval import Span


def block(start: int, end: int) -> int:
    """The minutes ``[start, end)``; minutes before 0 are cut off, an empty stretch is 0."""
    start = max(start, 0)
    return ((1 << (end - start)) - 1) << start if end > start else 0


def mask_of(spans: Iterable[Span]) -> int:
    """The minutes of all spans together."""
    mask = 0
    for span in spans:
        mask |= block(span.start, span.end)
    return mask


def beginnings(free: int, minutes: int) -> int:
    """The minutes at which a stretch of so many minutes, all of them free, can begin."""
    length = 1
    while length < minutes:
        step = min(length, minutes - length)
        free &= free >> step
        length += step
    return free


def shifted(mask: int, minutes: int) -> int:
    """The mask moved later by ``minutes`` (earlier when negative)."""
    return mask << minutes if minutes >= 0 else mask >> -minutes


def first_from(mask: int, minute: int) -> int | None:
    """The first minute of the mask at or after ``minute``; None when there is none."""
    later = mask >> minute
    return None if later == 0 else minute + (later & -later).bit_length() - 1


class Count:
    """How much of something is in use at each minute, up to ``most``; ``at_least[k]`` has the minutes with
    more than k.

    Capacity that changes over the day is told as use from the start.
    """

    __slots__ = ("at_least", "most")

    def __init__(self, most: int, at_least: list[int] | None = None) -> None:
        self.most = most
        self.at_least = [0] * most if at_least is None else at_least

    def copy(self) -> Count:
        """An independent copy."""
        return Count(self.most, self.at_least.copy())

    def unfit(self, amount: int) -> int:
        """The minutes at which ``amount`` more is too much."""
        if amount > self.most:
            return -1
        return self.at_least[self.most - amount] if amount > 0 else 0

    def add(self, mask: int, amount: int = 1) -> None:
        """Use ``amount`` more during the mask."""
        for _ in range(amount):
            carry = mask
            for index in range(self.most):
                before = self.at_least[index]
                self.at_least[index] = before | carry
                carry &= before
                if not carry:
                    break


def count_of(capacity: Iterable[tuple[Span, int]], end: int) -> Count:
    """A count whose capacity at each minute is the sum of the given amounts, 0 outside them and from ``end``
    on.
    """
    steps: dict[int, int] = {0: 0, end: 0}
    for span, amount in capacity:
        steps[span.start] = steps.get(span.start, 0) + amount
        steps[span.end] = steps.get(span.end, 0) - amount
    edges = sorted(edge for edge in steps if edge <= end)
    levels: list[tuple[int, int, int]] = []
    running = 0
    for edge, following in zip(edges, [*edges[1:], end], strict=True):
        running += steps[edge]
        levels.append((edge, following, running))
    most = max((amount for _, _, amount in levels), default=0)
    count = Count(most)
    for start, stop, amount in levels:
        count.add(block(start, stop), most - amount)
    count.add(-1 << end, most)
    return count
