"""The sheets that labels are printed on: where each label lies, in millimetres from the paper's top left corner."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kitchen.errors import BadSetting

A4_MM = (210.0, 297.0)
"""ISO 216."""
LETTER_MM = (215.9, 279.4)
"""8 1/2 by 11 inches; ANSI/ASME Y14.1, size A."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A grid of equal labels. ``pitch`` is from the edge of a label to the same edge of the next.

    A round label's width is its diameter.
    """

    id: str
    paper: str
    paper_mm: tuple[float, float]
    columns: int
    rows: int
    first_mm: tuple[float, float]
    label_mm: tuple[float, float]
    pitch_mm: tuple[float, float]
    round: bool = False

    @property
    def labels(self) -> int:
        """How many labels are on a sheet."""
        return self.columns * self.rows

    @property
    def words(self) -> str:
        """The sheet as a person would say it."""
        width, height = self.label_mm
        size = f"round, {width:g} mm across" if self.round else f"{width:g} by {height:g} mm"
        return f"{self.paper}, {self.labels} labels, {size}"

    def corner_mm(self, place: int) -> tuple[float, float]:
        """The top left corner of a label, counted from 1 along the rows; of a round one, of the square around it."""
        row, column = divmod(place - 1, self.columns)
        return (
            self.first_mm[0] + column * self.pitch_mm[0],
            self.first_mm[1] + row * self.pitch_mm[1],
        )


# Grids as sheets of labels are cut, centred on the paper: common practice, no source. Inside its rim a regular lid is
# about 58 mm across and a wide-mouth lid 73 mm: from memory. Smaller labels than these do not hold the whole text.
_GRIDS = (
    Sheet(
        id="a4-21",
        paper="A4",
        paper_mm=A4_MM,
        columns=3,
        rows=7,
        first_mm=(7.25, 15.15),
        label_mm=(63.5, 38.1),
        pitch_mm=(66.0, 38.1),
    ),
    Sheet(
        id="a4-14",
        paper="A4",
        paper_mm=A4_MM,
        columns=2,
        rows=7,
        first_mm=(4.65, 15.15),
        label_mm=(99.1, 38.1),
        pitch_mm=(101.6, 38.1),
    ),
    Sheet(
        id="a4-8",
        paper="A4",
        paper_mm=A4_MM,
        columns=2,
        rows=4,
        first_mm=(4.65, 13.1),
        label_mm=(99.1, 67.7),
        pitch_mm=(101.6, 67.7),
    ),
    Sheet(
        id="a4-round-12",
        paper="A4",
        paper_mm=A4_MM,
        columns=3,
        rows=4,
        first_mm=(11.0, 27.0),
        label_mm=(58.0, 58.0),
        pitch_mm=(65.0, 61.67),
        round=True,
    ),
    Sheet(
        id="letter-10",
        paper="US Letter",
        paper_mm=LETTER_MM,
        columns=2,
        rows=5,
        first_mm=(3.95, 12.7),
        label_mm=(101.6, 50.8),
        pitch_mm=(106.4, 50.8),
    ),
    Sheet(
        id="letter-6",
        paper="US Letter",
        paper_mm=LETTER_MM,
        columns=2,
        rows=3,
        first_mm=(3.95, 12.7),
        label_mm=(101.6, 84.65),
        pitch_mm=(106.4, 84.65),
    ),
    Sheet(
        id="letter-round-12",
        paper="US Letter",
        paper_mm=LETTER_MM,
        columns=3,
        rows=4,
        first_mm=(13.95, 18.7),
        label_mm=(58.0, 58.0),
        pitch_mm=(65.0, 61.33),
        round=True,
    ),
    Sheet(
        id="letter-round-6",
        paper="US Letter",
        paper_mm=LETTER_MM,
        columns=2,
        rows=3,
        first_mm=(29.95, 22.2),
        label_mm=(73.0, 73.0),
        pitch_mm=(83.0, 81.0),
        round=True,
    ),
)
SHEETS: Mapping[str, Sheet] = {sheet.id: sheet for sheet in _GRIDS}


def letter_paper(time_zone: str) -> bool:
    """True where US Letter is the usual paper, told by the time zone; A4 is everywhere else."""
    return time_zone.startswith(("America/", "US/", "Pacific/Honolulu"))


def sheet_named(name: str) -> Sheet:
    """The sheet with this id."""
    if name not in SHEETS:
        raise BadSetting(f"No sheet is called {name!r}.", remedy=f"Choose one of: {', '.join(SHEETS)}.")
    return SHEETS[name]
