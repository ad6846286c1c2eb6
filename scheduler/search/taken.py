"""Which minutes are taken, as bits: the compiled questions and changes."""

from __future__ import annotations

from scheduler.compiled import compiled_part
from scheduler.search.layout import NONE, Numbers


@compiled_part
def last_taken(taken: Numbers, row: int, start: int, end: int) -> int:
    """The last minute in ``[start, end)`` that is taken, or NONE.

    What is looked for may begin no sooner than the minute after it.
    """
    first = start >> 5
    at = (end - 1) >> 5
    bits: int = taken[row, at] & ((2 << ((end - 1) & 31)) - 1)
    while bits == 0 and at > first:
        at -= 1
        bits = taken[row, at]
    if at == first:
        bits &= -1 << (start & 31)
    if bits == 0:
        return NONE
    return (at << 5) + _highest(bits)


@compiled_part
def _highest(bits: int) -> int:
    """The place of the highest bit of a word that is not 0."""
    place = 0
    if bits >> 16:
        bits >>= 16
        place = 16
    if bits >> 8:
        bits >>= 8
        place += 8
    if bits >> 4:
        bits >>= 4
        place += 4
    if bits >> 2:
        bits >>= 2
        place += 2
    return place + (bits >> 1)


@compiled_part
def take(taken: Numbers, row: int, start: int, end: int) -> None:
    """Take the minutes ``[start, end)``, which must not be empty."""
    first = start >> 5
    last = (end - 1) >> 5
    head = (-1 << (start & 31)) & 0xFFFFFFFF
    tail = (2 << ((end - 1) & 31)) - 1
    if first == last:
        taken[row, first] |= head & tail
        return
    taken[row, first] |= head
    for at in range(first + 1, last):
        taken[row, at] = 0xFFFFFFFF
    taken[row, last] |= tail


@compiled_part
def count_taken(taken: Numbers, row: int, start: int, end: int) -> int:
    """How many minutes of ``[start, end)`` are taken."""
    first = start >> 5
    last = (end - 1) >> 5
    total = 0
    for at in range(first, last + 1):
        bits: int = taken[row, at]
        if at == first:
            bits &= -1 << (start & 31)
        if at == last:
            bits &= (2 << ((end - 1) & 31)) - 1
        while bits:
            bits &= bits - 1
            total += 1
    return total
