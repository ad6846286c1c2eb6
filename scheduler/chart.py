"""A planned day as a chart: canners, stations and people as rows against the clock on the wall.

Phases and work are told apart by pattern and by words, never by colour alone. The picture uses presentation attributes
only, so that it passes a content policy without inline style; class names let a page dress it otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from xml.sax.saxutils import escape

from scheduler.chart_rows import PHASE_WORDS, TASK_WORDS, Bar, Row, RowKind, bar_words, chart_rows
from scheduler.cycle import PhaseKind
from scheduler.plan import Plan, TaskKind
from scheduler.problem import Day
from scheduler.wall_clock import WallClock, wall_clock

__all__ = ["chart_rows", "chart_svg"]

_LABEL_WIDTH = 150
_RIGHT_MARGIN = 26
_UNITS_PER_MINUTE = 2.0
# A day of several days is drawn closer, or it would be as wide as a wall.
_UNITS_PER_MINUTE_LONG = 1.2
_LONG_MINUTES = 20 * 60
_AXIS_HEIGHT = 26
_SECTION_HEIGHT = 28
_LANE_HEIGHT = 20
_CAPTION_HEIGHT = 15
_ROW_GAP = 8
_LEGEND_LINE = 24
_LEGEND_GAP = 22
# Mean widths of a sans-serif's letters at 12 and at 11 units.
_LETTER_WIDTH = 6.4
_SMALL_LETTER_WIDTH = 5.7
# A caption has nothing to run into but the next one, so it may be reckoned closer.
_CAPTION_LETTER_WIDTH = 5.4
# Fewer letters than this before an ellipsis say nothing.
_LEAST_LETTERS = 8

# Ground colour, ink and the strokes inside a 10 by 10 tile; an empty one is plain.
_LOOKS: Mapping[PhaseKind | TaskKind, tuple[str, str, str]] = {
    PhaseKind.LOADING: ("#ffffff", "#555555", "M5 4.2v1.6"),
    PhaseKind.HEAT_UP: ("#fdeccb", "#b06a00", "M0 10L10 0"),
    PhaseKind.VENT: ("#ffffff", "#8a5200", "M2.5 0V10M7.5 0V10"),
    PhaseKind.PRESSURE_UP: ("#fdeccb", "#8a5200", "M0 0L10 10M0 10L10 0"),
    PhaseKind.PROCESS: ("#7a1f1f", "#7a1f1f", ""),
    PhaseKind.COOL_DOWN: ("#dbeaf7", "#2c648f", "M0 2.5H10M0 7.5H10"),
    PhaseKind.REST: ("#f1f1f1", "#555555", "M0 5H4"),
    PhaseKind.UNLOADING: ("#ffffff", "#555555", "M0 5H10M5 0V10"),
    TaskKind.PREP: ("#e3f1dc", "#3f6f2a", "M5 4v2"),
    TaskKind.KETTLE: ("#fdeccb", "#b06a00", "M0 0L10 10"),
    TaskKind.FILL: ("#fff9d6", "#7d6b00", ""),
    TaskKind.WATCH: ("#f6dada", "#7a1f1f", "M5 0V10"),
    TaskKind.COOLING: ("#ffffff", "#555555", "M0 5H10M5 0V10"),
    TaskKind.CLEANING: ("#e4def2", "#553c8b", "M0 10L10 0M0 0L10 10"),
}
_INK = "#222222"
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_HEADINGS = {RowKind.CANNER: "Canners", RowKind.STATION: "Stations", RowKind.PERSON: "People"}


def chart_svg(day: Day, plan: Plan, say: Callable[[str], str] = str) -> str:
    """The chart as an SVG picture with a view box, so that it fits a phone and a wall alike.

    Every bar carries its words and times as a title; ``chart_rows`` gives the same as a table. ``say`` gives the words
    in the reader's language, before they are fitted.
    """
    rows = chart_rows(day, plan)
    frame = _frame(day, plan, rows)
    return "".join(_Drawing(day, rows, frame, say).parts()) + "\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """From which minute to which the chart goes, and how wide a minute is."""

    clock: WallClock
    start: int
    end: int
    scale: float

    def x(self, minute: int) -> float:
        return _LABEL_WIDTH + (minute - self.start) * self.scale

    @property
    def width(self) -> float:
        return self.x(self.end) + _RIGHT_MARGIN

    def hours(self) -> Iterator[int]:
        """The minutes at which the clock on the wall shows a full hour."""
        first = next(
            minute for minute in range(self.start, self.start + 60) if self.clock.moment(minute).minute == 0
        )
        yield from range(first, self.end + 1, 60)


def _frame(day: Day, plan: Plan, rows: tuple[Row, ...]) -> _Frame:
    bars = [bar for row in rows for bar in row.bars]
    start = min([bar.start for bar in bars] + [span.start for span in day.opening])
    end = max([bar.end for bar in bars] + [span.end for span in day.opening])
    start, end = start - start % 60, end + -end % 60
    long = end - start > _LONG_MINUTES
    return _Frame(
        clock=wall_clock(day.date, day.time_zone),
        start=start,
        end=end,
        scale=_UNITS_PER_MINUTE_LONG if long else _UNITS_PER_MINUTE,
    )


class _Drawing:
    """Draws from the top down; ``_y`` is where the next thing goes."""

    def __init__(self, day: Day, rows: tuple[Row, ...], frame: _Frame, say: Callable[[str], str]) -> None:
        self._day = day
        self._rows = rows
        self._frame = frame
        self._say = say
        self._y = 0.0

    def parts(self) -> Iterator[str]:
        self._y = _AXIS_HEIGHT
        body = list(self._sections())
        bottom = self._y
        legend = list(self._legend())
        width, height = self._frame.width, self._y + _ROW_GAP
        date = self._say(f"{self._day.date:%a %-d %b %Y}")
        title = _xml(f"{self._day.kitchen}, {date}: {self._say('the planned day')}")
        yield (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="day-chart" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'width="{width:.0f}" height="{height:.0f}" role="img" aria-labelledby="day-chart-title day-chart-desc" '
            f'font-family="sans-serif" font-size="12" fill="{_INK}">'
            f'<title id="day-chart-title">{title}</title><desc id="day-chart-desc">{_xml(self._description())}</desc>'
        )
        yield "<defs>"
        yield from (_pattern(what) for what in _LOOKS)
        yield "</defs>"
        yield (f'<rect class="day-chart-ground" width="{width:.0f}" height="{height:.0f}" fill="#ffffff"/>')
        yield from self._closed_hours(bottom)
        yield from self._grid(bottom)
        yield from body
        yield from legend
        yield "</svg>"

    def _description(self) -> str:
        canners = [row for row in self._rows if row.kind is RowKind.CANNER]
        told = []
        for row in canners:
            loads = {bar.load_id: self._say(bar.text) for bar in row.bars}
            told.append(f"{row.name}: {'; '.join(loads.values()) or self._say('no load')}.")
        return " ".join(told)

    def _closed_hours(self, bottom: float) -> Iterator[str]:
        """A grey ground while the kitchen is closed."""
        title = _xml(self._say("closed"))
        edges = [self._frame.start]
        for span in sorted(self._day.opening):
            edges += [span.start, span.end]
        edges.append(self._frame.end)
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            if start < end:
                x, width = self._frame.x(start), (end - start) * self._frame.scale
                yield (
                    f'<rect class="day-chart-closed" x="{x:.1f}" y="{_AXIS_HEIGHT}" width="{width:.1f}" '
                    f'height="{bottom - _AXIS_HEIGHT:.1f}" fill="#eeeeee"><title>{title}</title></rect>'
                )

    def _grid(self, bottom: float) -> Iterator[str]:
        for minute in self._frame.hours():
            x = self._frame.x(minute)
            local = self._frame.clock.moment(minute)
            new_day = local.hour == 0 and minute > 0
            yield (
                f'<path class="day-chart-hour" d="M{x:.1f} {_AXIS_HEIGHT - 6}V{bottom:.1f}" '
                f'stroke="{"#777777" if new_day else "#d0d0d0"}" stroke-width="1"/>'
            )
            label = self._say(f"{local:%a %-d}") if new_day else f"{local:%H:%M}"
            yield _text(x, _AXIS_HEIGHT - 10, label, 'text-anchor="middle" class="day-chart-hour-label"')
            yield _text(x, bottom + 14, label, 'text-anchor="middle" class="day-chart-hour-label"')

    def _sections(self) -> Iterator[str]:
        for kind, rows in groupby(self._rows, key=lambda row: row.kind):
            yield _text(
                8,
                self._y + 19,
                self._say(_HEADINGS[kind]),
                'font-size="14" font-weight="bold" class="day-chart-heading"',
            )
            self._y += _SECTION_HEIGHT
            for row in rows:
                yield from self._row(row)
        self._y += _ROW_GAP

    def _row(self, row: Row) -> Iterator[str]:
        captioned = row.kind is RowKind.CANNER
        top = self._y + (_CAPTION_HEIGHT if captioned else 0)
        height = row.lanes * _LANE_HEIGHT
        yield f'<g class="day-chart-row day-chart-{row.kind}">'
        name = self._name(row)
        yield _text(8, top + 14, _fitting(name, _LABEL_WIDTH - 16) or name[:1], 'class="day-chart-name"')
        if captioned:
            yield from self._captions(row, top - 4)
        for bar in row.bars:
            yield from self._bar(row, bar, top + bar.lane * _LANE_HEIGHT)
        if not row.bars:
            idle = "no load" if row.kind is RowKind.CANNER else "nothing planned"
            yield _text(
                _LABEL_WIDTH + 4,
                top + 14,
                self._say(idle),
                'fill="#595959" font-size="11" class="day-chart-idle"',
            )
        yield "</g>"
        self._y = top + height + _ROW_GAP
        yield (
            f'<path class="day-chart-line" d="M8 {self._y - _ROW_GAP / 2:.1f}H{self._frame.x(self._frame.end):.1f}" '
            f'stroke="#e4e4e4" stroke-width="1"/>'
        )

    def _captions(self, row: Row, y: float) -> Iterator[str]:
        """What is in each load, over its bars."""
        for load_id in dict.fromkeys(bar.load_id for bar in row.bars):
            bars = [bar for bar in row.bars if bar.load_id == load_id]
            start, end = min(bar.start for bar in bars), max(bar.end for bar in bars)
            text = _fitting(
                self._say(bars[0].text), (end - start) * self._frame.scale - 3, _CAPTION_LETTER_WIDTH
            )
            if text:
                yield _text(self._frame.x(start), y, text, 'font-size="11" class="day-chart-load"')

    def _bar(self, row: Row, bar: Bar, y: float) -> Iterator[str]:
        x, width = self._frame.x(bar.start), (bar.end - bar.start) * self._frame.scale
        ground, ink, _ = _LOOKS[bar.what]
        told = [bar_words(bar), self._frame.clock.span_words(bar.start, bar.end), bar.text]
        if bar.hands > 1 and row.kind is RowKind.STATION:
            told.append(f"{bar.hands} hands")
        title = f"{self._name(row)}: {', '.join(map(self._say, told))}"
        yield (
            f'<g class="day-chart-bar day-chart-{bar.what}">'
            f"<title>{_xml(title)}</title>"
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{_LANE_HEIGHT - 2}" rx="2" '
            f'fill="url(#day-chart-{bar.what})" stroke="{ink}" stroke-width="1"/>'
        )
        inside = tuple(" ".join(map(self._say, parts)) for parts in _inside(row, bar))
        text = _first_fitting(inside, width - 5)
        if text:
            yield from _bar_text(x + 3, y, text, ground)
        yield "</g>"

    def _name(self, row: Row) -> str:
        """What a person or a canner is called stays as it is; a station is a word."""
        return self._say(row.name) if row.kind is RowKind.STATION else row.name

    def _legend(self) -> Iterator[str]:
        self._y += _LEGEND_LINE + 6
        used = {bar.what for row in self._rows for bar in row.bars}
        x = 8.0
        for what in (one for one in _LOOKS if one in used and one is not TaskKind.COOLING):
            words = self._say(_what_words(what))
            width = 32 + len(words) * _LETTER_WIDTH + _LEGEND_GAP
            if x + width > self._frame.width:
                x, self._y = 8.0, self._y + _LEGEND_LINE
            yield (
                f'<rect x="{x:.1f}" y="{self._y:.1f}" width="26" height="16" rx="2" '
                f'fill="url(#day-chart-{what})" stroke="{_LOOKS[what][1]}" stroke-width="1"/>'
            )
            yield _text(x + 32, self._y + 12, words, 'class="day-chart-legend"')
            x += width
        self._y += _LEGEND_LINE


def _what_words(what: PhaseKind | TaskKind) -> str:
    if what is PhaseKind.UNLOADING:
        return f"{PHASE_WORDS[what]}, {TASK_WORDS[TaskKind.COOLING]}"
    return PHASE_WORDS[what] if isinstance(what, PhaseKind) else TASK_WORDS[what]


def _inside(row: Row, bar: Bar) -> tuple[tuple[str, ...], ...]:
    """The words for inside a bar, each said by itself, the fullest first."""
    words = bar_words(bar)
    if row.kind is RowKind.PERSON:
        return (words, bar.text), (words,)
    if row.kind is RowKind.STATION:
        return (bar.text,), (" ".join(bar.text.split()[:2]),)
    if bar.what is PhaseKind.PROCESS:
        minutes = bar.end - bar.start
        return (f"process {minutes} min",), (f"{minutes} min",), (f"{minutes}",)
    return (words,), (words.split("-")[0],)


def _first_fitting(texts: tuple[str, ...], width: float) -> str:
    return next((text for text in texts if len(text) * _SMALL_LETTER_WIDTH <= width), "")


def _bar_text(x: float, y: float, text: str, ground: str) -> Iterator[str]:
    """Text on a plain plate of the bar's ground colour, so that no pattern runs through the letters."""
    dark = ground == _LOOKS[PhaseKind.PROCESS][0]
    if not dark:
        yield (
            f'<rect class="day-chart-plate" x="{x - 2:.1f}" y="{y + 2:.1f}" '
            f'width="{len(text) * _SMALL_LETTER_WIDTH + 3:.1f}" height="{_LANE_HEIGHT - 6}" fill="{ground}"/>'
        )
    yield _text(
        x, y + 13, text, f'font-size="11" fill="{"#ffffff" if dark else _INK}" class="day-chart-word"'
    )


def _pattern(what: PhaseKind | TaskKind) -> str:
    ground, ink, strokes = _LOOKS[what]
    return (
        f'<pattern id="day-chart-{what}" width="10" height="10" patternUnits="userSpaceOnUse">'
        f'<rect width="10" height="10" fill="{ground}"/>'
        f'<path d="{strokes}" fill="none" stroke="{ink}" stroke-opacity="0.6" stroke-width="1.2"/></pattern>'
    )


def _text(x: float, y: float, text: str, attributes: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" {attributes}>{_xml(text)}</text>'


def _fitting(text: str, width: float, letter_width: float = _LETTER_WIDTH) -> str:
    """The text, cut with an ellipsis to what fits; nothing when next to nothing would be left."""
    most = int(width // letter_width)
    if len(text) <= most:
        return text
    return f"{text[: most - 1].rstrip()}…" if most >= _LEAST_LETTERS else ""


def _xml(text: str) -> str:
    """Text for between tags, without the characters that XML 1.0 forbids."""
    return escape(_NOT_XML.sub("", text))
