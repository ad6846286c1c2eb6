"""The times of a day file: clock times become minutes, and what cannot be is refused with its line."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.day_refusal import at_line, refused_at
from scheduler.day_tables import KitchenTable, SpanTable
from scheduler.errors import BadDay
from scheduler.interval import Span, merge
from scheduler.toml_lines import Path, TomlLines
from scheduler.wall_clock import WallClock, check_year, wall_clock

# A typing guard, not a figure of the trade.
_MINUTES = range(-7 * 24 * 60, 14 * 24 * 60 + 1)


class DayTimes:
    """Reads times as a kitchen's clock shows them, keeping the lines for refusals."""

    def __init__(self, kitchen: KitchenTable, lines: TomlLines) -> None:
        self._kitchen = kitchen
        self._lines = lines
        self.clock = self._read_clock()

    def opening(self) -> tuple[Span, ...]:
        """When the kitchen is open."""
        kitchen = self._kitchen
        if kitchen.hours and (kitchen.opens or kitchen.closes):
            raise at_line(
                self._lines.line(("kitchen", "hours")),
                "[kitchen] has hours as well as opens or closes.",
                "Keep one of the two: opens and closes for one span, hours for several.",
            )
        if kitchen.hours:
            return merge(self.spans(kitchen.hours, ("kitchen", "hours")))
        if not (kitchen.opens and kitchen.closes):
            raise at_line(
                self._lines.line(("kitchen",)),
                "[kitchen] does not say when it is open.",
                'Add opens = "08:00" and closes = "18:00".',
            )
        opens = self.minute(kitchen.opens, ("kitchen", "opens"))
        closes = self.minute(kitchen.closes, ("kitchen", "closes"))
        if closes <= opens:
            raise at_line(
                self._lines.line(("kitchen", "closes")),
                f"The kitchen would close at {kitchen.closes}, not after it opens at {kitchen.opens}.",
                "Close it later; a time past midnight is written with its date.",
            )
        return (Span(opens, closes),)

    def minute(self, written: str, path: Path) -> int:
        """Minutes from the day's origin. Refused when it is far from the day."""
        with refused_at(self._lines, path):
            minute = self.clock.minute(written)
            if minute not in _MINUTES:
                raise BadDay(
                    f"{written} is far from the day, {self.clock.day}.",
                    remedy="Check its date: a week before and two weeks after the day are read.",
                )
            return minute

    def span(self, entry: SpanTable, path: Path) -> Span:
        """From one time to another. Refused when it does not end after it begins."""
        start, end = self.minute(entry.start, (*path, "from")), self.minute(entry.end, (*path, "to"))
        if end <= start:
            raise at_line(
                self._lines.line((*path, "to")),
                f"This ends at {entry.end}, not after it begins at {entry.start}.",
                "Let it end later; a time past midnight is written with its date.",
            )
        return Span(start, end)

    def spans(self, entries: Sequence[SpanTable], path: Path) -> tuple[Span, ...]:
        """The spans in the file's order. Refused when two overlap."""
        spans: list[Span] = []
        for place, entry in enumerate(entries):
            span = self.span(entry, (*path, place))
            if any(span.meets(other) for other in spans):
                raise at_line(
                    self._lines.line((*path, place)),
                    f"{entry.start} to {entry.end} overlaps another span of the same list.",
                    "Give each minute once.",
                )
            spans.append(span)
        return tuple(spans)

    def _read_clock(self) -> WallClock:
        with refused_at(self._lines, ("kitchen", "date")):
            check_year(self._kitchen.date)
        with refused_at(self._lines, ("kitchen", "time_zone")):
            return wall_clock(self._kitchen.date, self._kitchen.time_zone)
