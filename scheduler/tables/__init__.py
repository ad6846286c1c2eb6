"""The published tables as they were checked in, and the check that they still are.

The figures are those of the USDA Complete Guide to Home Canning (AIB 539), as read from extension sheets and
reprints; ``process_sources.csv`` says where each was seen. ``SHA256SUMS`` beside them (the format of
``sha256sum -c``) holds each file's checksum: a file that does not match is refused, because one altered digit could
be a process that does not kill. To change a figure on purpose: edit the file, name the source, run
``sha256sum *.csv > SHA256SUMS`` in the folder, and have it reviewed.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import cache
from pathlib import Path

from scheduler.errors import TablesDamaged

PACKAGED_TABLES = Path(__file__).parent
"""Where the tables lie that this program was shipped with."""

MANIFEST = "SHA256SUMS"
_REMEDY = (
    "Plan nothing from it: install the program afresh, or restore its tables folder from the repository."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of a table. Each reading refuses a cell that is missing or is not what it should be."""

    table: str
    line: int
    cells: Mapping[str, str]

    def text(self, column: str) -> str:
        """The cell as printed; refused when empty or absent."""
        value = self.cells.get(column)
        if not value:
            raise self.damaged(f"{column} is missing")
        return value

    def number(self, column: str) -> Decimal:
        """The cell as an exact number above or equal to zero."""
        text = self.text(column)
        try:
            value = Decimal(text)
        except InvalidOperation:
            raise self.damaged(f"{column} is {text!r}, not a number") from None
        if not value.is_finite() or value < 0:
            raise self.damaged(f"{column} is {text!r}")
        return value

    def number_or_none(self, column: str) -> Decimal | None:
        """As ``number``, or None where nothing is printed."""
        return self.number(column) if self.cells.get(column) else None

    def whole(self, column: str) -> int:
        """The cell as a whole number."""
        value = self.number(column)
        if value != value.to_integral_value():
            raise self.damaged(f"{column} is {value}, not a whole number")
        return int(value)

    def whole_or_none(self, column: str) -> int | None:
        """As ``whole``, or None where nothing is printed."""
        return self.whole(column) if self.cells.get(column) else None

    def damaged(self, what: str) -> TablesDamaged:
        """The refusal that names this line."""
        return TablesDamaged(f"{self.table}, line {self.line}: {what}.", remedy=_REMEDY)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """All five tables, each as its lines in printed order."""

    processes: tuple[Row, ...]
    foods: tuple[Row, ...]
    process_sources: tuple[Row, ...]
    acidify: tuple[Row, ...]
    yields: tuple[Row, ...]


@cache
def packaged_tables() -> Tables:
    """The tables this program was shipped with; read and checked once in a program's life."""
    return read_tables(PACKAGED_TABLES)


def read_tables(folder: Path) -> Tables:
    """Read every table of a folder. ``TablesDamaged`` when any file differs from the folder's checksums."""
    checksums = _read_manifest(folder)

    def rows(table: str) -> tuple[Row, ...]:
        return _read_rows(folder, f"{table}.csv", checksums)

    return Tables(
        processes=rows("processes"),
        foods=rows("foods"),
        process_sources=rows("process_sources"),
        acidify=rows("acidify"),
        yields=rows("yields"),
    )


def _read_manifest(folder: Path) -> dict[str, str]:
    try:
        lines = (folder / MANIFEST).read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise TablesDamaged(
            f"The checksums of the published tables cannot be read: {error}.", remedy=_REMEDY
        ) from None
    pairs = [line.split(maxsplit=1) for line in lines if line.strip()]
    return {pair[1].lstrip("*"): pair[0] for pair in pairs if len(pair) == 2}


def _read_rows(folder: Path, name: str, checksums: Mapping[str, str]) -> tuple[Row, ...]:
    try:
        content = (folder / name).read_bytes()
    except OSError as error:
        raise TablesDamaged(f"The published table {name} cannot be read: {error}.", remedy=_REMEDY) from None
    if hashlib.sha256(content).hexdigest() != checksums.get(name):
        raise TablesDamaged(f"The published table {name} is not the one that was checked in.", remedy=_REMEDY)
    reader = csv.DictReader(io.StringIO(content.decode("utf-8"), newline=""))
    return tuple(Row(table=name, line=reader.line_num, cells=dict(cells)) for cells in reader)
