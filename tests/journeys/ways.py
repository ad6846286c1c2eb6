"""The ways in which a journey is walked: how wide the screen, by mouse or by keyboard alone, with scripts or without.

A run of the tests walks each journey on the narrow screen by keyboard, on the wide one by mouse, and on the narrow one
without scripts where that is asked. With ``KITCHEN_TEST_ALL_JOURNEYS=1`` it walks them in every way there is.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from itertools import product

import pytest

ALL = os.environ.get("KITCHEN_TEST_ALL_JOURNEYS") == "1"
NARROW, WIDE = 390, 1280


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way to walk a journey; ``width`` is in CSS pixels."""

    width: int = NARROW
    by_keyboard: bool = False
    scripts: bool = True

    def __str__(self) -> str:
        hand = "keyboard" if self.by_keyboard else "mouse"
        return f"{self.width}-{hand}{'' if self.scripts else '-no-scripts'}"


_USUAL = (Way(by_keyboard=True), Way(width=WIDE))
_USUAL_WITHOUT = Way(scripts=False)


def every_way(*, without_scripts: bool) -> pytest.MarkDecorator:
    """Gives the test a ``way``, one after the other; ``without_scripts`` says whether it works without them too."""
    if ALL:
        scripts = (True, False) if without_scripts else (True,)
        walked = [
            Way(width=width, by_keyboard=by_keyboard, scripts=one)
            for width, by_keyboard, one in product((NARROW, WIDE), (False, True), scripts)
        ]
    else:
        walked = [*_USUAL, *([_USUAL_WITHOUT] if without_scripts else [])]
    return pytest.mark.parametrize("way", walked, ids=str)
