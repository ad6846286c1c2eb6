"""Bars as SVG: a line of words above each, its parts told apart by pattern and never by colour alone.

Everything is drawn in the colour of the page's ink, so that it is right in light and in dark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

_WIDTH, _ROW, _BAR, _TOP = 360, 42, 16, 4
_MOST_LETTERS = 46
"""As many as stand above a bar in most types; the table beside has the whole name."""
_LEAST = 1.5
"""A part that is there at all is seen: so many units wide at the least."""
PATTERNS = ("full", "hatched", "dotted")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A bar with its words; ``parts`` follow one another and take the patterns in their order."""

    words: str
    parts: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """A drawing. ``key`` makes its ids unlike those of others on the page; ``most`` is the value of a whole bar's
    width, None for the longest bar's. ``legend`` names the parts, empty when there is only one.
    """

    key: str
    title: str
    description: str
    bars: tuple[Bar, ...]
    legend: tuple[str, ...] = ()
    most: float | None = None

    @property
    def svg(self) -> str:
        """The drawing, to stand in a page."""
        most = self.most or max((sum(bar.parts) for bar in self.bars), default=0) or 1
        rows = [self._legend()] if self.legend else []
        height = _TOP + (len(self.bars) + (1 if self.legend else 0)) * _ROW
        for place, bar in enumerate(self.bars, start=len(rows)):
            rows.append(self._bar(bar, _TOP + place * _ROW, most))
        names = f"{self.key}-title {self.key}-desc"
        return (
            f'<svg viewBox="0 0 {_WIDTH} {height}" role="img" aria-labelledby="{names}" class="bars" '
            f'xmlns="http://www.w3.org/2000/svg">'
            f'<title id="{self.key}-title">{escape(self.title)}</title>'
            f'<desc id="{self.key}-desc">{escape(self.description)}</desc>'
            f"{self._patterns()}{''.join(rows)}</svg>"
        )

    def _bar(self, bar: Bar, top: float, most: float) -> str:
        whole = len(bar.words) <= _MOST_LETTERS
        words = bar.words if whole else f"{bar.words[: _MOST_LETTERS - 1].rstrip(' ,:')}…"
        drawn, left = [_words(words, 0, top + 14)], 0.0
        for pattern, part in zip(PATTERNS, bar.parts, strict=False):
            if part > 0:
                width = max(part / most * (_WIDTH - 2), _LEAST)
                drawn.append(self._box(pattern, 1 + left, top + 20, width))
                left += width
        return "".join(drawn)

    def _legend(self) -> str:
        step = _WIDTH / len(self.legend)
        return "".join(
            self._box(pattern, 1 + place * step, _TOP + 6, 18) + _words(words, place * step + 24, _TOP + 19)
            for place, (pattern, words) in enumerate(zip(PATTERNS, self.legend, strict=False))
        )

    def _box(self, pattern: str, left: float, top: float, width: float) -> str:
        fill = "currentColor" if pattern == "full" else f"url(#{self.key}-{pattern})"
        return (
            f'<rect x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="{_BAR}" fill={quoteattr(fill)} '
            f'stroke="currentColor"/>'
        )

    def _patterns(self) -> str:
        if not self.legend:
            return ""
        return (
            "<defs>"
            f'<pattern id="{self.key}-hatched" width="6" height="6" patternUnits="userSpaceOnUse" '
            'patternTransform="rotate(45)"><path d="M0 0V6" stroke="currentColor" stroke-width="3"/></pattern>'
            f'<pattern id="{self.key}-dotted" width="6" height="6" patternUnits="userSpaceOnUse">'
            '<circle cx="3" cy="3" r="1.4" fill="currentColor"/></pattern>'
            "</defs>"
        )


def only(values: Sequence[tuple[str, float]]) -> tuple[Bar, ...]:
    """Bars of one part each."""
    return tuple(Bar(words=words, parts=(value,)) for words, value in values)


def _words(words: str, left: float, baseline: float) -> str:
    return (
        f'<text x="{left:.1f}" y="{baseline:.1f}" font-size="14" fill="currentColor">{escape(words)}</text>'
    )
