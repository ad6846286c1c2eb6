"""Fitting a label's text into its shape: type shrinks to its least size, lines wrap, and nothing is ever cut.

Lengths are millimetres from the label's top left corner, type sizes points.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.pdfbase.pdfmetrics import stringWidth

from kitchen.errors import LabelTooSmall

MM_PER_PT = 25.4 / 72
INSET_MM = 2.0
"""Kept free along a label's edge, because printers shift sheets by a millimetre or two. Common practice, no source."""
LEADING = 1.15
"""From line to line, as a multiple of the type size. Common practice, no source."""
ASCENT, DESCENT = 0.718, 0.207
"""Of both weights, as parts of the type size: the font's own metrics."""
REGULAR, BOLD = "Helvetica", "Helvetica-Bold"

QR_MODULE_MM = 0.5
LEAST_QR_MODULE_MM = 0.35
"""The side of one square of the code: what an office printer prints and a phone reads. Common practice, no source."""
QUIET_MODULES = 4
"""Left white around the code. ISO/IEC 18004."""

_STEP = 0.04
_SCAN_MM = 0.25
_HAIR_MM = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A piece of text. It is set at ``size_pt`` if there is room, and never below ``least_pt``.

    ``one_line`` text shrinks before it wraps. Words are divided by plain spaces; a no-break space holds them together.
    """

    text: str
    size_pt: float
    least_pt: float
    font: str = REGULAR
    one_line: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line of text where it stands; ``y_mm`` is its baseline."""

    text: str
    font: str
    size_pt: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A label's lines, and its code: the corner of the dark square and the side of a module."""

    lines: tuple[Line, ...]
    code_mm: tuple[float, float]
    module_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """The inside of a label with a code of ``code_mm`` side in its right: at the top, or halfway up a round label."""

    width_mm: float
    height_mm: float
    round: bool
    code_mm: float
    quiet_mm: float

    @property
    def code_corner_mm(self) -> tuple[float, float]:
        """The top left corner of the code's dark square."""
        if not self.round:
            return self.width_mm - INSET_MM - self.code_mm, INSET_MM
        half = self.code_mm / 2
        reach = math.sqrt(max(self._radius_mm**2 - half**2, 0))
        return self.width_mm / 2 + reach - self.code_mm, self.height_mm / 2 - half

    def span_mm(self, top: float, bottom: float) -> tuple[float, float]:
        """From where to where a line between these heights may run; from its right to its left when nowhere."""
        left, right = self._within(top, bottom)
        code_left, code_top = self.code_corner_mm
        beside = bottom > code_top - self.quiet_mm and top < code_top + self.code_mm + self.quiet_mm
        return left, min(right, code_left - self.quiet_mm) if beside else right

    def _within(self, top: float, bottom: float) -> tuple[float, float]:
        if not self.round:
            return INSET_MM, self.width_mm - INSET_MM
        middle = self.height_mm / 2
        off = max(abs(top - middle), abs(bottom - middle))
        reach = math.sqrt(self._radius_mm**2 - off**2) if off < self._radius_mm else 0.0
        return self.width_mm / 2 - reach, self.width_mm / 2 + reach

    @property
    def _radius_mm(self) -> float:
        return self.width_mm / 2 - INSET_MM


def width_mm(text: str, font: str, size_pt: float) -> float:
    """How wide a text runs."""
    return float(stringWidth(text, font, size_pt)) * MM_PER_PT


def fit(blocks: Sequence[Block], *, width_mm: float, height_mm: float, round_: bool, modules: int) -> Setting:
    """Set the blocks one below the other beside a code of so many modules, as large as fits.

    Refused with ``LabelTooSmall``: what does not fit at the least sizes.
    """
    steps = round(1 / _STEP)
    for step in range(steps + 1):
        scale = 1 - step * _STEP
        module = max(LEAST_QR_MODULE_MM, QR_MODULE_MM * scale)
        shape = Shape(
            width_mm=width_mm,
            height_mm=height_mm,
            round=round_,
            code_mm=modules * module,
            quiet_mm=QUIET_MODULES * module,
        )
        lines = _set(blocks, shape, scale)
        if lines is not None:
            return Setting(lines=lines, code_mm=shape.code_corner_mm, module_mm=module)
    raise LabelTooSmall(
        f"The text does not fit on a label of {width_mm:g} by {height_mm:g} mm at {blocks[-1].least_pt:g} points.",
        remedy="Choose a larger label; nothing is left out of it.",
    )


def _set(blocks: Sequence[Block], shape: Shape, scale: float) -> tuple[Line, ...] | None:
    """The lines at this scale, or None when they do not fit."""
    lines: list[Line] = []
    top = INSET_MM
    for block in blocks:
        for line, bottom in _set_block(block, shape, scale, top):
            if bottom > shape.height_mm - INSET_MM:
                return None
            lines.append(line)
            top = bottom
    return tuple(lines)


def _set_block(block: Block, shape: Shape, scale: float, top: float) -> Iterator[tuple[Line, float]]:
    """Each line of a block with the height at which the next may begin."""
    size = max(block.least_pt, block.size_pt * scale)
    if block.one_line:
        size = _shrunk(block, shape, size, top)
    height = size * LEADING * MM_PER_PT
    words = block.text.split(" ")
    if block.one_line and _stands_whole(block, shape, size, top):
        words = [block.text]
    while words:
        needed = width_mm(words[0], block.font, size)
        top, left, right = _room(shape, top, height, needed)
        if right - left < needed - _HAIR_MM:
            head, rest = _broken(words[0], block.font, size, right - left)
            words[:1] = [head, rest] if rest else [head]
        taken = _taken(words, block.font, size, right - left)
        text = " ".join(words[:taken])
        del words[:taken]
        spare = right - left - width_mm(text, block.font, size)
        yield (
            Line(
                text=text,
                font=block.font,
                size_pt=size,
                x_mm=left + (spare / 2 if shape.round else 0),
                y_mm=top + (height + (ASCENT - DESCENT) * size * MM_PER_PT) / 2,
            ),
            top + height,
        )
        top += height


def _shrunk(block: Block, shape: Shape, size: float, top: float) -> float:
    """The size at which the block stands on one line, or its least size."""
    height = size * LEADING * MM_PER_PT
    top, left, right = _room(shape, top, height, width_mm(block.text, block.font, size))
    return max(block.least_pt, min(size, size * (right - left) / width_mm(block.text, block.font, size)))


def _stands_whole(block: Block, shape: Shape, size: float, top: float) -> bool:
    whole = width_mm(block.text, block.font, size)
    _, left, right = _room(shape, top, size * LEADING * MM_PER_PT, whole)
    return whole <= right - left + _HAIR_MM


def _room(shape: Shape, top: float, height: float, needed: float) -> tuple[float, float, float]:
    """The first height from here on at which so much width is free, else the widest there is, with its span."""
    best = (top, *shape.span_mm(top, top + height))
    if not shape.round or best[2] - best[1] >= needed - _HAIR_MM:
        return best
    at = top
    while at + height <= shape.height_mm - INSET_MM:
        left, right = shape.span_mm(at, at + height)
        if right - left >= needed - _HAIR_MM:
            return at, left, right
        if right - left > best[2] - best[1]:
            best = (at, left, right)
        at += _SCAN_MM
    return best


def _taken(words: Sequence[str], font: str, size: float, room: float) -> int:
    """How many words stand on a line of this width; at least one."""
    taken = 1
    while taken < len(words) and width_mm(" ".join(words[: taken + 1]), font, size) <= room:
        taken += 1
    return taken


def _broken(word: str, font: str, size: float, room: float) -> tuple[str, str]:
    """A word too long for any line, cut where the line ends; at least one letter stands on it."""
    kept = max(1, sum(width_mm(word[: end + 1], font, size) <= room for end in range(len(word))))
    return word[:kept], word[kept:]
