"""What the search works on: turns, and the day that they make."""

from __future__ import annotations

from dataclasses import dataclass, field

from scheduler.search.options import Option

Gene = tuple[int, int | None]
"""Place jars of this batch, on this canner if given."""
Score = tuple[int, ...]
"""The levels in order: jars left out, lateness, last jar out, canner time, loads, changeovers."""


@dataclass(slots=True)
class Piece:
    """The jars of one batch in a load: when their prep begins and ends, and their kettle."""

    batch: int
    option: Option
    jars: int
    prep: tuple[int, int] | None
    prep_hands: int
    kettle: int | None


@dataclass(slots=True)
class Placed:
    """A load with its place in the day. ``start`` is the start of the fill, ``watcher`` a person's number."""

    option: Option
    start: int
    watcher: int
    table: int | None
    pieces: list[Piece] = field(default_factory=list)

    @property
    def out(self) -> int:
        """The minute the last jar is out."""
        return self.start + self.option.minutes


@dataclass(slots=True)
class Decoded:
    """A whole day: its loads; the turns that make it again; by batch the jars left out and the minutes late."""

    loads: list[Placed]
    turns: list[Gene]
    left: list[int]
    late: list[int]
    score: Score
