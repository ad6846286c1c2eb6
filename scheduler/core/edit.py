"""Changed rows, tried beside the old ones: what is put in, cut out or replaced, and between which places."""

from __future__ import annotations

from scheduler.compiled import compiled_inline
from scheduler.core.rows import LATEST, LOAD, State

# The change being tried: machines touched, then machine, length, first changed place, last changed place, shift of the
# rest; twice. Then which loads the two spare numbers stand for, and the load that is emptied (or -1).
CHANGED, FIRST_EDIT, EDIT_SIZE = 0, 1, 5
EDIT_MACHINE, EDIT_LENGTH, EDIT_FROM, EDIT_TO, EDIT_SHIFT = range(5)
SPARE_FOR, EMPTIED = 11, 13


@compiled_inline
def begin(s: State) -> None:
    """Nothing changed yet."""
    s.change[CHANGED] = 0
    s.change[SPARE_FOR] = s.change[SPARE_FOR + 1] = s.change[EMPTIED] = -1


@compiled_inline
def edit_row(s: State, slot: int, machine: int) -> None:
    """Start changing a row: a copy in ``trial[slot]``."""
    length = s.length[machine]
    for place in range(length):
        s.trial[slot, place] = s.row[machine, place, LOAD]
    at = FIRST_EDIT + slot * EDIT_SIZE
    s.change[CHANGED] = slot + 1
    s.change[at + EDIT_MACHINE] = machine
    s.change[at + EDIT_LENGTH] = length
    s.change[at + EDIT_FROM] = length
    s.change[at + EDIT_TO] = 0
    s.change[at + EDIT_SHIFT] = 0


@compiled_inline
def touch(s: State, slot: int, place: int) -> None:
    """Widen the changed stretch."""
    at = FIRST_EDIT + slot * EDIT_SIZE
    s.change[at + EDIT_FROM] = min(s.change[at + EDIT_FROM], place)
    s.change[at + EDIT_TO] = max(s.change[at + EDIT_TO], place)


@compiled_inline
def put(s: State, slot: int, place: int, load: int) -> None:
    """Insert a load before ``place``."""
    at = FIRST_EDIT + slot * EDIT_SIZE
    length = s.change[at + EDIT_LENGTH]
    for n in range(length, place, -1):
        s.trial[slot, n] = s.trial[slot, n - 1]
    s.trial[slot, place] = load
    s.change[at + EDIT_LENGTH] = length + 1
    if s.change[at + EDIT_TO] >= place:
        s.change[at + EDIT_TO] += 1
    s.change[at + EDIT_SHIFT] += 1
    touch(s, slot, place)


@compiled_inline
def cut(s: State, slot: int, place: int) -> None:
    """Take the load at ``place`` out."""
    at = FIRST_EDIT + slot * EDIT_SIZE
    length = s.change[at + EDIT_LENGTH]
    for n in range(place, length - 1):
        s.trial[slot, n] = s.trial[slot, n + 1]
    s.change[at + EDIT_LENGTH] = length - 1
    if s.change[at + EDIT_TO] > place:
        s.change[at + EDIT_TO] -= 1
    s.change[at + EDIT_SHIFT] -= 1
    touch(s, slot, place)


@compiled_inline
def replace(s: State, slot: int, place: int, load: int) -> None:
    """Another load at this place."""
    s.trial[slot, place] = load
    touch(s, slot, place)


@compiled_inline
def slot_of(s: State, machine: int) -> int:
    """The trial row of a machine; made when it is the second."""
    if s.change[CHANGED] > 0 and s.change[FIRST_EDIT + EDIT_MACHINE] == machine:
        return 0
    if s.change[CHANGED] == 0:
        edit_row(s, 0, machine)
        return 0
    if s.change[CHANGED] == 1:
        edit_row(s, 1, machine)
    return 1


@compiled_inline
def swap_rest(s: State, slot: int, first: int, other: int, second: int) -> None:
    """The trial row from ``first`` on is another row from ``second`` on."""
    length = first
    for place in range(second, s.length[other]):
        s.trial[slot, length] = s.row[other, place, LOAD]
        length += 1
    at = FIRST_EDIT + slot * EDIT_SIZE
    s.change[at + EDIT_LENGTH] = length
    s.change[at + EDIT_FROM] = first
    s.change[at + EDIT_TO] = LATEST
