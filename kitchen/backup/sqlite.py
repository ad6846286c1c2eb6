"""Backup of a SQLite file by SQLite's own online copy, which writers need not stop for."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from hashlib import sha256
from pathlib import Path
from time import monotonic

from django.conf import settings
from django.db import connection

from kitchen.backup.manifest import Table
from kitchen.errors import BadBackup
from kitchen.serve.prepare import lock_data_folder

_PATIENCE_SECONDS = 30
_CHECKSUM_BITS = 64


def copy_to(target: Path) -> dict[str, Table]:
    """Copy the kitchen's database as it stands at one moment, and say what is in the copy."""
    with closing(sqlite3.connect(_kitchens_file(), timeout=_PATIENCE_SECONDS)) as live:
        _copy(live, target)
    return tables_of(target)


def tables_of(file: Path) -> dict[str, Table]:
    """Every table of a database file, counted and summed. The order of the rows does not matter."""
    with closing(sqlite3.connect(file)) as opened:
        names = opened.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'"
        )
        return {name: _table(opened, name) for (name,) in sorted(names.fetchall())}


def check_copy(file: Path, tables: dict[str, Table]) -> None:
    """Refuse a file that SQLite itself finds faulty, or that does not hold what it should."""
    try:
        with closing(sqlite3.connect(file)) as opened:
            (verdict,) = opened.execute("PRAGMA integrity_check").fetchone()
        sound = verdict == "ok" and tables_of(file) == tables
    except sqlite3.DatabaseError:
        sound = False
    if not sound:
        raise BadBackup(
            "The backup's database is faulty.", remedy="Take another backup; nothing was changed."
        )


@contextmanager
def stopped() -> Iterator[None]:
    """Hold the data folder, so that no ``serve`` runs or begins meanwhile."""
    with lock_data_folder(settings.KITCHEN_DATA):
        yield


def put_in_place(file: Path, tables: dict[str, Table]) -> None:
    """Put the file's content in the place of the kitchen's, in one transaction: all of it or nothing."""
    connection.close()
    with closing(sqlite3.connect(file)) as source:
        _copy(source, Path(_kitchens_file()))


def _copy(source: sqlite3.Connection, target: Path) -> None:
    give_up_at = monotonic() + _PATIENCE_SECONDS

    def waited(status: int, remaining: int, total: int) -> None:
        if status in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED} and monotonic() > give_up_at:
            raise BadBackup(
                "Another program holds the kitchen's database.",
                remedy="Stop web servers, workers and beat, then try again; nothing was changed.",
            )

    with closing(sqlite3.connect(target)) as opened:
        # All pages in one step: a copy in several begins anew with every write of another process.
        source.backup(opened, pages=-1, progress=waited)


def _table(opened: sqlite3.Connection, name: str) -> Table:
    rows, total = 0, 0
    for row in opened.execute(f'SELECT * FROM "{name}"'):  # noqa: S608  (the database's own name of it)
        rows += 1
        total += int.from_bytes(sha256(repr(row).encode()).digest()[: _CHECKSUM_BITS // 8])
    return Table(rows=rows, checksum=f"{total % (1 << _CHECKSUM_BITS):016x}")


def _kitchens_file() -> str:
    return str(connection.settings_dict["NAME"])
