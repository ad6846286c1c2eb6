"""Jars: their sizes, what counts as what (rule S1), their outside measures and volumes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class JarSize(StrEnum):
    """A jar by its trade name. The value is the spelling used in files and addresses."""

    QUARTER_PINT = "quarter_pint"
    HALF_PINT = "half_pint"
    TWELVE_OUNCE = "twelve_ounce"
    PINT = "pint"
    PINT_AND_HALF = "pint_and_half"
    QUART = "quart"
    HALF_GALLON = "half_gallon"

    @property
    def words(self) -> str:
        """The name as a person would say it."""
        return _WORDS[self]


class Pack(StrEnum):
    """Hot pack (food cooked, then filled) or raw pack."""

    HOT = "hot"
    RAW = "raw"


@dataclass(frozen=True, slots=True, kw_only=True)
class JarShape:
    """Outside measures of a regular-mouth jar and what it holds.

    Secondary charts disagree by up to 0.4 in and no maker drawing was readable, so a kitchen should measure
    its own jars; ``source`` says where each figure comes from.
    """

    diameter_in: float
    height_in: float
    volume_qt: float
    glass_kg: float
    source: str


# Rule S1. Source: Kansas State Univ. Extension, Choose the Right Jar (2019) and Canning in Odd-Sized Jars
# (2022): 4 oz as half-pint, 12 oz as pint, 24 oz as quart. Half-pint as pint only where no half-pint is
# printed: Michigan extension educator Q&A (2018). Each step is to a jar that is never smaller.
_STANDS_FOR: dict[JarSize, JarSize] = {
    JarSize.QUARTER_PINT: JarSize.HALF_PINT,
    JarSize.HALF_PINT: JarSize.PINT,
    JarSize.TWELVE_OUNCE: JarSize.PINT,
    JarSize.PINT_AND_HALF: JarSize.QUART,
}

_WORDS: dict[JarSize, str] = {
    JarSize.QUARTER_PINT: "quarter-pint (4 oz)",
    JarSize.HALF_PINT: "half-pint",
    JarSize.TWELVE_OUNCE: "12 oz",
    JarSize.PINT: "pint",
    JarSize.PINT_AND_HALF: "pint-and-a-half (24 oz)",
    JarSize.QUART: "quart",
    JarSize.HALF_GALLON: "half-gallon",
}

_CHART = "secondary dimension charts, which disagree by up to 0.3 in"
SHAPES: dict[JarSize, JarShape] = {
    JarSize.QUARTER_PINT: JarShape(
        diameter_in=2.6, height_in=2.5, volume_qt=0.125, glass_kg=0.12, source=f"{_CHART}; mass from memory"
    ),
    JarSize.HALF_PINT: JarShape(
        diameter_in=2.9,
        height_in=3.7,
        volume_qt=0.25,
        glass_kg=0.19,
        source=f"height: {_CHART}; diameter with rack clearance, reproduces the published 24 in two layers",
    ),
    JarSize.TWELVE_OUNCE: JarShape(
        diameter_in=2.9, height_in=5.0, volume_qt=0.375, glass_kg=0.25, source=f"{_CHART}; mass from memory"
    ),
    JarSize.PINT: JarShape(
        diameter_in=3.24,
        height_in=5.13,
        volume_qt=0.5,
        glass_kg=0.32,
        source="computed from a printed circumference of 10.19 in; height from the same specification",
    ),
    JarSize.PINT_AND_HALF: JarShape(
        diameter_in=3.3, height_in=6.75, volume_qt=0.75, glass_kg=0.38, source=f"{_CHART}; mass from memory"
    ),
    JarSize.QUART: JarShape(
        diameter_in=3.75,
        height_in=6.9,
        volume_qt=1.0,
        glass_kg=0.45,
        source="diameter from memory: the charted 3.5 in would fit 8 where 7 is published (AIB 539); height charted",
    ),
    JarSize.HALF_GALLON: JarShape(
        diameter_in=4.3, height_in=9.45, volume_qt=2.0, glass_kg=0.75, source=f"{_CHART}; mass from memory"
    ),
}


def stands_for(jar: JarSize) -> tuple[JarSize, ...]:
    """The jar itself, then the printed sizes whose process it may borrow, nearest first (rule S1)."""
    chain = [jar]
    while chain[-1] in _STANDS_FOR:
        chain.append(_STANDS_FOR[chain[-1]])
    return tuple(chain)
