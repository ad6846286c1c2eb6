"""Hands, watches and cooling tables of a day being made: when they are free, and taking them."""

from __future__ import annotations

from scheduler.compiled import compiled_part
from scheduler.search.layout import (
    ADULTS,
    AT_CANNER,
    AT_CLEANING,
    AT_COOLING,
    AT_FILL,
    AT_KETTLE,
    AT_PREP,
    EVERYBODY,
    FILL_HANDS,
    NONE,
    PER_PERSON,
    PREP_HANDS,
    SPARE_ROWS,
    USE_AREA,
    USE_FROM,
    USE_TO,
    WATCHER_ROW,
    WATCHERS,
    Numbers,
)
from scheduler.search.taken import count_taken, take


@compiled_part
def take_hands(
    taken: Numbers,
    spare: Numbers,
    rules: Numbers,
    station: int,
    start: int,
    end: int,
    hands: int,
    adults: bool,
) -> None:
    """Use hands at a station; for AT_CLEANING, which is no station of its own, from everybody and the adults."""
    for minute in range(start, end):
        _use(taken, spare, rules, station, minute, hands, adults)


@compiled_part
def _use(
    taken: Numbers, spare: Numbers, rules: Numbers, station: int, minute: int, hands: int, adults: bool
) -> None:
    spare[EVERYBODY, minute] -= hands
    if adults:
        spare[ADULTS, minute] -= hands
    if station != AT_CLEANING:
        spare[station, minute] -= hands
    word = minute >> 5
    bit = 1 << (minute & 31)
    left: int = spare[EVERYBODY, minute]
    grown: int = spare[ADULTS, minute]
    prep: int = rules[PREP_HANDS]
    fill: int = rules[FILL_HANDS]
    if min(left, spare[AT_PREP, minute]) < prep:
        taken[AT_PREP, word] |= bit
    if min(left, spare[AT_FILL, minute]) < fill:
        taken[AT_FILL, word] |= bit
    one = min(left, grown)
    if one < 1:
        taken[AT_CLEANING, word] |= bit
    if min(one, spare[AT_KETTLE, minute]) < 1:
        taken[AT_KETTLE, word] |= bit
    if min(one, spare[AT_CANNER, minute]) < 1:
        taken[AT_CANNER, word] |= bit
    if min(one, spare[AT_COOLING, minute]) < 1:
        taken[AT_COOLING, word] |= bit


@compiled_part
def last_unwatched(taken: Numbers, row: int, start: int, end: int) -> int:
    """The last minute in ``[start, end)`` in which the watcher of this row cannot take one more canner, or NONE.

    Someone already watching only needs room for it; someone else must also be spared elsewhere.
    """
    first = start >> 5
    at = (end - 1) >> 5
    mask = (2 << ((end - 1) & 31)) - 1
    while at >= first:
        bits: int = taken[row, at] | taken[row + 1, at] | (taken[AT_CANNER, at] & ~taken[row + 2, at])
        bits &= mask
        if at == first:
            bits &= -1 << (start & 31)
        if bits:
            minute = (at << 5) + 31
            while not bits >> (minute & 31):
                minute -= 1
            return minute
        mask = 0xFFFFFFFF
        at -= 1
    return NONE


@compiled_part
def watch_from(taken: Numbers, rules: Numbers, start: int, minutes: int) -> int:
    """``start`` when someone can watch from there so long, else the next minute at which to look again."""
    best = NONE
    for watcher in range(rules[WATCHERS]):
        last = last_unwatched(taken, rules[WATCHER_ROW] + 3 * watcher, start, start + minutes)
        if last == NONE:
            return start
        if best == NONE or last + 1 < best:
            best = last + 1
    return best


@compiled_part
def watcher_for(taken: Numbers, rules: Numbers, start: int, minutes: int) -> int:
    """Who watches from there: someone already at a canner before someone who is not."""
    best = NONE
    fewest = 0
    for watcher in range(rules[WATCHERS]):
        row = rules[WATCHER_ROW] + 3 * watcher
        if last_unwatched(taken, row, start, start + minutes) != NONE:
            continue
        newly = minutes - count_taken(taken, row + 2, start, start + minutes)
        if best == NONE or newly < fewest:
            best = watcher
            fewest = newly
    return best


@compiled_part
def take_watch(taken: Numbers, spare: Numbers, rules: Numbers, watcher: int, start: int, end: int) -> None:
    """Put one more canner into this watcher's care."""
    row = rules[WATCHER_ROW] + 3 * watcher
    watching = SPARE_ROWS + watcher
    for minute in range(start, end):
        if spare[watching, minute] == 0:
            _use(taken, spare, rules, AT_CANNER, minute, 1, True)
        spare[watching, minute] += 1
        if spare[watching, minute] >= rules[PER_PERSON]:
            take(taken, row + 1, minute, minute + 1)
    take(taken, row + 2, start, end)


@compiled_part
def has_room(uses: Numbers, count: int, start: int, end: int, room: int) -> bool:
    """True when no more than ``room`` stands on a table at any minute of ``[start, end)`` (rule S12)."""
    together = 0
    latest = start
    for use in range(count):
        if uses[use, USE_FROM] < end and start < uses[use, USE_TO]:
            together += uses[use, USE_AREA]
            latest = max(latest, uses[use, USE_FROM])
    if together <= room:
        return True
    # The most stands there when the last jars come, or it is some minute at which others come.
    if _standing(uses, count, latest) > room or _standing(uses, count, start) > room:
        return False
    for use in range(count):
        at: int = uses[use, USE_FROM]
        if start < at < end and _standing(uses, count, at) > room:
            return False
    return True


@compiled_part
def _standing(uses: Numbers, count: int, minute: int) -> int:
    """What stands on a table at a minute."""
    standing = 0
    for use in range(count):
        if uses[use, USE_FROM] <= minute < uses[use, USE_TO]:
            standing += uses[use, USE_AREA]
    return standing
