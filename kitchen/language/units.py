"""Amounts in the reader's units: what is published stands first as printed, and what it is in metric beside it.

Nothing a process was tested with is ever replaced by a conversion: a gauge, a table and a jar say what they say.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from kitchen.language.person import Units, units_in_use

_HELD = "\N{NO-BREAK SPACE}"
_VULGAR = {"½": Fraction(1, 2), "¼": Fraction(1, 4), "¾": Fraction(3, 4)}
_NUMBER = r"\d[\d,]*(?:\.\d+)?(?: \d+/\d+|/\d+|[½¼¾])?|[½¼¾]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A US unit with its metric one. ``factor`` times the US figure is the metric one, after ``offset`` is taken away.

    ``names`` are how the US unit is written in either language. ``upward`` rounds up: a pressure that must at least be
    reached is never shown smaller than it is.
    """

    names: tuple[str, ...]
    metric: str
    factor: Fraction
    offset: int = 0
    digits: int = 0
    upward: bool = False

    def to_metric(self, figure: float | Fraction | Decimal) -> Fraction:
        """The figure in the metric unit, exactly."""
        return (Fraction(figure) - self.offset) * self.factor

    def from_metric(self, figure: float | Fraction | Decimal) -> Fraction:
        """A metric figure in the US unit, exactly."""
        return Fraction(figure) / self.factor + self.offset

    def words(self, figure: Fraction) -> str:
        """A US figure as a metric one, rounded as is safe for it: ``83 kPa``."""
        steps = self.to_metric(figure) * 10**self.digits
        whole = math.ceil(steps) if self.upward else round(steps)
        return f"{float(Fraction(whole, 10**self.digits)):g}{_HELD}{self.metric}"


# NIST Special Publication 811 (2008), appendix B, from memory: inch, foot, pound, gallon and degree are exact by
# definition; the pound-force on a square inch follows from them and standard gravity.
LENGTH = Measure(
    names=("inches", "inch", "in", "pulgadas", "pulgada"), metric="cm", factor=Fraction("2.54"), digits=1
)
AREA = Measure(
    names=("square inches", "sq in", "in²", "pulgadas cuadradas"), metric="cm²", factor=Fraction("6.4516")
)
ALTITUDE = Measure(names=("ft", "feet", "pies"), metric="m", factor=Fraction("0.3048"))
WEIGHT = Measure(names=("pounds", "libras"), metric="kg", factor=Fraction("0.45359237"), digits=2)
VOLUME = Measure(names=("quarts", "qt", "cuartos"), metric="L", factor=Fraction("0.946352946"), digits=1)
TEMPERATURE = Measure(names=("°F",), metric="°C", factor=Fraction(5, 9), offset=32)
PRESSURE = Measure(
    names=("lb", "psi"),
    metric="kPa",
    factor=Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2 / 1000,
    upward=True,
)
MEASURES = (AREA, LENGTH, ALTITUDE, WEIGHT, VOLUME, TEMPERATURE, PRESSURE)

_BY_NAME = {name: measure for measure in MEASURES for name in measure.names}
# "2 in" may also begin a place: "Canner 2 in the yard".
_INCH = r"in(?=$|[^\w ]| (?:of|over|apart|de|por|con)\b)"
_UNIT = "|".join(
    _INCH if name == "in" else re.escape(name) for name in sorted(_BY_NAME, key=len, reverse=True)
)
# "2 quarts or 4 pints" are jars, and a lot code or a time is no amount.
_AMOUNT = re.compile(
    rf"(?<![\w/.,:-])(?:(?P<least>{_NUMBER})(?P<joint>(?: to | a )))?(?P<figure>{_NUMBER})[ {_HELD}]"
    rf"(?P<unit>{_UNIT})(?![\w²-])(?! \()(?! or \d)"
)


def with_metric(words: str) -> str:
    """The words with each amount in metric units behind it, for a reader of metric units; as they are for others."""
    return _AMOUNT.sub(_beside, words) if units_in_use() is Units.METRIC else words


def kilograms_as_pounds(kilograms: Decimal) -> Decimal:
    """A weight in pounds to a hundredth, near enough that the same kilograms, to a hundredth, come back."""
    return round(Decimal(float(WEIGHT.from_metric(kilograms))), 2)


def _beside(found: re.Match[str]) -> str:
    measure = _BY_NAME[found["unit"]]
    told = measure.words(_figure(found["figure"]))
    if found["least"]:
        least = measure.words(_figure(found["least"])).partition(_HELD)[0]
        told = f"{least}{found['joint']}{told}"
    return f"{found[0]} ({told})"


def _figure(written: str) -> Fraction:
    """A figure as it is printed: ``1 1/4``, ``1½``, ``2,450`` or ``12.5``."""
    part = _VULGAR.get(written[-1])
    if part is not None:
        return part + (Fraction(written[:-1]) if written[:-1] else 0)
    return sum((Fraction(one) for one in written.replace(",", "").split()), Fraction(0))
