"""The files: a zip of tables with a README, and one's own data as JSON."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, time
from decimal import Decimal
from io import TextIOWrapper
from typing import IO
from uuid import UUID
from zipfile import ZIP_DEFLATED, ZipFile

from django.core.serializers.json import DjangoJSONEncoder
from django.template.loader import render_to_string

from kitchen.export.queries import one_moment, rows_of_kitchen, rows_of_person
from kitchen.export.tables import Table, of_kitchen, of_people
from kitchen.members.models import Kitchen, User
from kitchen.records.table_file import safe


def write_kitchen(kitchen: Kitchen, to: IO[bytes], now: datetime) -> dict[str, int]:
    """Write everything the kitchen has as one zip, of one moment; say how many rows each file holds.

    Tables are RFC 4180 in UTF-8, times in UTC; a cell that a spreadsheet would reckon with begins with an apostrophe.
    """
    counts: dict[str, int] = {}
    with ZipFile(to, "w", ZIP_DEFLATED) as archive, one_moment():
        for table in of_kitchen():
            rows = rows_of_kitchen(table, kitchen)
            with archive.open(table.name, "w") as raw, TextIOWrapper(raw, "utf-8", newline="") as file:
                write = _write_json if table.as_json else _write_csv
                counts[table.name] = write(table, rows, file)
        files = [(table, counts[table.name]) for table in of_kitchen()]
        words = render_to_string("export/readme.txt", {"kitchen": kitchen, "files": files, "now": now})
        archive.writestr("README.txt", words.replace("\n", "\r\n"))
    return counts


def data_of(user: User, kitchen: Kitchen | None = None) -> dict[str, list[dict[str, object]]]:
    """What is known of a person, by table, in one kitchen or in all: also what they wrote down for others."""
    with one_moment():
        return {
            table.file: list(_named(table, rows_of_person(table, user, kitchen))) for table in of_people()
        }


def as_json(told: object) -> str:
    """As JSON, times in ISO 8601."""
    return json.dumps(told, cls=DjangoJSONEncoder, indent=1, ensure_ascii=False)


def _named(table: Table, rows: Iterable[tuple[object, ...]]) -> Iterator[dict[str, object]]:
    columns = table.columns(own=True)
    return (dict(zip(columns, row, strict=True)) for row in rows)


def _write_csv(table: Table, rows: Iterable[tuple[object, ...]], file: TextIOWrapper) -> int:
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(table.columns())
    count = 0
    for row in rows:
        writer.writerow([_cell(value) for value in row])
        count += 1
    return count


def _write_json(table: Table, rows: Iterable[tuple[object, ...]], file: TextIOWrapper) -> int:
    """One row a line, so that a long file can be read row by row."""
    columns, count = table.columns(), 0
    file.write("[")
    for row in rows:
        line = json.dumps(dict(zip(columns, row, strict=True)), cls=DjangoJSONEncoder, ensure_ascii=False)
        file.write(f"{',' if count else ''}\n{line}")
        count += 1
    file.write("\n]\n")
    return count


def _cell(value: object) -> str:
    """A value as it stands in a table; only words can be taken for a formula, figures are written plain."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float | Decimal):
        return str(value)
    return safe(_words(value))


def _words(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, str | UUID):
        return str(value)
    return json.dumps(value, cls=DjangoJSONEncoder, ensure_ascii=False)
