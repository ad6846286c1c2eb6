"""Recorded times as a table in CSV, which a person can keep in a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping

from scheduler.errors import SchedulerError
from scheduler.learning import Measured, Record

COLUMNS = ("subject", "kind", "usual_minutes", "recorded_minutes", "least_minutes")
"""``least_minutes`` may be left out or empty; further columns, a date for instance, are not looked at."""

# Typing guards, not figures of the trade.
MOST_LETTERS = 5_000_000
_MOST_MINUTES = 24 * 60.0


class BadRecordsFile(SchedulerError):
    """The file holds no recorded times; the message names the line."""

    code = "bad-records-file"


def read_records(text: str) -> tuple[Record, ...]:
    """The recorded times of a table. ``BadRecordsFile`` names the first line that is wrong, and the remedy."""
    if len(text) > MOST_LETTERS:
        raise _refused(1, "The file is too long.", f"Keep it under {MOST_LETTERS:,} letters.")
    rows = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    try:
        missing = [name for name in COLUMNS[:-1] if name not in (rows.fieldnames or ())]
        if missing:
            raise _refused(
                1, f"There is no column {missing[0]}.", f"Begin with the line {','.join(COLUMNS)}."
            )
        return tuple(_record(row, rows.line_num) for row in rows)
    except csv.Error as error:
        raise _refused(
            rows.line_num, f"This is no CSV: {error}.", "Save it as comma-separated text."
        ) from None


def records_csv(records: Iterable[Record]) -> str:
    """The table that ``read_records`` reads, line by line in this order."""
    out = io.StringIO(newline="")
    table = csv.writer(out)
    table.writerow(COLUMNS)
    for one in records:
        table.writerow(
            (
                one.subject,
                one.kind.value,
                f"{one.usual_minutes:g}",
                f"{one.recorded_minutes:g}",
                one.least_minutes,
            )
        )
    return out.getvalue()


def _record(row: Mapping[str, str | None], line: int) -> Record:
    subject = (row["subject"] or "").strip()
    if not subject:
        raise _refused(line, "No subject is given.", "Name the canner or the family of foods.")
    return Record(
        subject=subject,
        kind=_kind(row["kind"] or "", line),
        usual_minutes=_minutes(row, "usual_minutes", line),
        recorded_minutes=_minutes(row, "recorded_minutes", line),
        least_minutes=_least(row.get("least_minutes") or "0", line),
    )


def _kind(written: str, line: int) -> Measured:
    plain = written.strip().casefold().replace("-", "_").replace(" ", "_")
    try:
        return Measured(plain)
    except ValueError:
        raise _refused(
            line, f"{written!r} is nothing that is learned.", f"Choose from {', '.join(Measured)}."
        ) from None


def _minutes(row: Mapping[str, str | None], name: str, line: int) -> float:
    written = (row[name] or "").strip()
    try:
        minutes = float(written)
    except ValueError:
        minutes = math.nan
    if not 0 < minutes <= _MOST_MINUTES:
        raise _refused(
            line, f"{name} is {written!r}.", f"Give minutes above 0 and up to {_MOST_MINUTES:g}, as 12.5."
        )
    return minutes


def _least(written: str, line: int) -> int:
    plain = written.strip()
    if not plain.isdecimal() or int(plain) > _MOST_MINUTES:
        raise _refused(line, f"least_minutes is {plain!r}.", "Give whole minutes, or leave it empty.")
    return int(plain)


def _refused(line: int, message: str, remedy: str) -> BadRecordsFile:
    return BadRecordsFile(f"Line {line}: {message}", remedy=remedy)
