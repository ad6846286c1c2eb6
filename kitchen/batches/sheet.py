"""A table that somebody made in a spreadsheet, read with suspicion: a few short cells come of it, or a refusal."""

from __future__ import annotations

import csv
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from io import StringIO

from kitchen.errors import BadTable

# Guards of the program, far above what a harvest day brings; no figures of the trade.
MOST_BYTES = 200_000
MOST_ROWS = 200
MOST_COLUMNS = 20
LONGEST_CELL = 120
_DELIMITERS = ",;\t"
_MARKS = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16", b"\xef\xbb\xbf": "utf-8-sig"}
_HEADINGS_AND_A_ROW = 2


@dataclass(frozen=True, slots=True)
class Line:
    """A row as it stands in the file; ``number`` counts from 1, the headings included, as a spreadsheet does."""

    number: int
    cells: tuple[str, ...]


def text_of(content: bytes) -> str:
    """The file's text. Spreadsheets write UTF-8, UTF-16 with its mark, or the code page of Windows in the West."""
    if len(content) > MOST_BYTES:
        raise _too_large()
    encoding = next((name for mark, name in _MARKS.items() if content.startswith(mark)), "")
    for one in [encoding] if encoding else ["utf-8", "cp1252"]:
        try:
            return content.decode(one)
        except UnicodeDecodeError:
            continue
    raise BadTable("This file is no text.", remedy="Save the table as CSV in UTF-8, and choose that file.")


def lines_of(text: str) -> list[Line]:
    """The headings and the rows that are not empty."""
    if len(text) > MOST_BYTES:
        raise _too_large()
    if "\x00" in text:
        raise BadTable(
            "This file is no text.", remedy="Save the table as CSV in UTF-8, and choose that file."
        )
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    found = [line for line in _read(text) if any(line.cells)]
    if len(found) < _HEADINGS_AND_A_ROW:
        raise BadTable(
            "There is no row in this table.",
            remedy="Write the headings in the first row, and what is brought below.",
        )
    if len(found) - 1 > MOST_ROWS:
        raise BadTable(
            f"This table has more than {MOST_ROWS} rows.",
            remedy="Divide it into several, and bring one after the other.",
        )
    return found


def why_no_text(cell: str) -> str:
    """What is wrong with the letters of a cell; empty when nothing is."""
    if len(cell) > LONGEST_CELL:
        return f"It is longer than {LONGEST_CELL} letters."
    if any(unicodedata.category(letter).startswith("C") for letter in cell):
        return "It holds signs that cannot be seen."
    return ""


def _read(text: str) -> Iterator[Line]:
    head = next((line for line in text.split("\n") if line.strip()), "")
    delimiter = max(_DELIMITERS, key=head.count)
    reader = csv.reader(StringIO(text, newline="\n"), delimiter=delimiter, strict=True)
    number = 0
    try:
        for cells in reader:
            if len(cells) > MOST_COLUMNS:
                raise BadTable(
                    f"Row {reader.line_num} has more than {MOST_COLUMNS} columns.",
                    remedy="Take away the columns that are not among the headings below.",
                )
            number += 1
            if any(cells):
                yield Line(number, tuple(unicodedata.normalize("NFC", cell).strip() for cell in cells))
    except csv.Error as error:
        raise BadTable(
            f"Row {reader.line_num} cannot be read as a table.",
            remedy="A quotation mark in it may not be closed. Save the table as CSV again.",
        ) from error


def _too_large() -> BadTable:
    return BadTable(
        f"This table is larger than {MOST_BYTES // 1000} kB.",
        remedy="Divide it into several, and bring one after the other.",
    )
