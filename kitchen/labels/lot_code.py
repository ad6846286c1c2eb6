"""The lot code on a jar: the load's code and a letter for the batch, as ``RV-SNABEA-26330-P1-2-A``.

The load's code names site, product, year and day of year, canner and load of the day, and no two loads share one; the
letter tells the batches of a load apart, so no two portions share a lot code. It is read aloud part by part.
"""

from __future__ import annotations

import re

# Without I and O, which are taken for 1 and 0. Common practice, no source.
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
_NOT_IN_A_CODE = re.compile(r"[^A-Z0-9]+")


def mark_of(place: int) -> str:
    """The letters of the batch that stands at this place in its load, counted from 1: A, B, up to Z, then AA."""
    if place < 1:
        raise ValueError(f"places are counted from 1, not from {place}")
    mark = ""
    while place:
        place, letter = divmod(place - 1, len(LETTERS))
        mark = LETTERS[letter] + mark
    return mark


def place_of(mark: str) -> int:
    """The place whose letters these are. The inverse of ``mark_of``."""
    place = 0
    for letter in mark:
        place = place * len(LETTERS) + LETTERS.index(letter) + 1
    return place


def lot_code(load_code: str, place: int) -> str:
    """The lot code of the portion at this place in the load."""
    return f"{load_code}-{mark_of(place)}"


def read_lot(said: str) -> tuple[str, int | None]:
    """The load's code and the place of the batch in it, None when only the load was named.

    Small letters, spaces or dots between the parts do no harm: codes are read aloud and typed.
    """
    code = _NOT_IN_A_CODE.sub("-", said.upper()).strip("-")
    load_code, _, last = code.rpartition("-")
    if load_code and last and set(last) <= set(LETTERS):
        return load_code, place_of(last)
    return code, None
