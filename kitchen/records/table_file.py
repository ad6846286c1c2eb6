"""Records as a table in a file: comma-separated values after RFC 4180, in UTF-8."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from datetime import datetime
from io import StringIO
from zoneinfo import ZoneInfo

from kitchen.language.said import said
from kitchen.records.content import Record
from kitchen.records.sheet import sections_of

HEADER = ("load", "section", "at", "what", "value", "who", "written_at", "remark", "stands", "digest")
"""Stands for good: columns may be added at the end, none is renamed."""
CONTENT_TYPE = "text/csv; charset=utf-8; header=present"

# A spreadsheet takes such a cell for a formula; an apostrophe before it makes it text. OWASP, CSV Injection.
_FORMULA = re.compile(r"[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")


def table_of(records: Iterable[Record]) -> str:
    """One line for each entry of these records, in the reader's language, times with their offset.

    The columns' order stands for good in every language, their names and those of the sections in English.
    """
    held = StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow(said(column) for column in HEADER)
    for record in records:
        writer.writerows([safe(cell) for cell in line] for line in _lines(record))
    return held.getvalue()


def safe(cell: str) -> str:
    """The cell so that no spreadsheet reckons with it: an apostrophe before what would be a formula."""
    return f"'{cell}" if _FORMULA.match(cell.lstrip(" ")) else cell


def _lines(record: Record) -> Iterator[tuple[str, ...]]:
    zone = record.kitchen.zone
    for section in sections_of(record):
        for entry in section.entries:
            yield (
                record.load.lot_code,
                said(section.key),
                _moment(entry.at, zone),
                entry.what,
                entry.value,
                entry.who,
                _moment(entry.written_at, zone),
                entry.remark,
                said("yes") if entry.stands else said("no"),
                record.digest,
            )


def _moment(at: datetime | None, zone: ZoneInfo) -> str:
    return "" if at is None else at.astimezone(zone).isoformat(sep=" ", timespec="seconds")
