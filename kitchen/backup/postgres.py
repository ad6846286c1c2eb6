"""Backup of a PostgreSQL database by PostgreSQL's own programs, held to one moment and compared row by row."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection, transaction
from django.db.backends.utils import CursorWrapper

from kitchen.backup.manifest import Table
from kitchen.errors import BadBackup

_SCHEMA = "public"
# What a row looks like as text must depend on nothing that a server or a role may be set to.
_PLAIN_TEXT = (
    "SET LOCAL TimeZone = 'UTC'",
    "SET LOCAL DateStyle = 'ISO, YMD'",
    "SET LOCAL IntervalStyle = 'postgres'",
    "SET LOCAL extra_float_digits = 1",
    "SET LOCAL bytea_output = 'hex'",
)
# A sum over all rows, in whatever order; of each row the first 60 bits of a digest of its text.
_TABLE = (
    "SELECT count(*), coalesce(sum(('x' || substr(md5(\"{name}\"::text), 1, 15))::bit(60)::bigint), 0)::text "
    'FROM "{schema}"."{name}"'
)
_CLEAR = """
DO $clear$
DECLARE one record;
BEGIN
    FOR one IN SELECT tablename AS name FROM pg_tables WHERE schemaname = '{schema}' LOOP
        EXECUTE format('DROP TABLE IF EXISTS %I.%I CASCADE', '{schema}', one.name);
    END LOOP;
    FOR one IN
        SELECT p.oid::regprocedure::text AS name FROM pg_proc p
        WHERE p.pronamespace = '{schema}'::regnamespace
        AND NOT EXISTS (SELECT 1 FROM pg_depend d WHERE d.objid = p.oid AND d.deptype = 'e')
    LOOP
        EXECUTE format('DROP FUNCTION IF EXISTS %s CASCADE', one.name);
    END LOOP;
END $clear$;
"""
_HELD = """
    SELECT * INTO held FROM ({query}) AS found (many, checksum);
    IF held.many <> {rows} OR held.checksum <> '{checksum}' THEN
        RAISE EXCEPTION '{name} is not what was saved';
    END IF;"""


def copy_to(target: Path) -> dict[str, Table]:
    """Dump the kitchen's database as it stands at one moment, and say what it held at that very moment."""
    with transaction.atomic(), connection.cursor() as cursor:
        # The rows are counted as they stood at the moment of the dump, whatever is written meanwhile.
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        _run(
            "pg_dump",
            "--format=custom",
            "--no-owner",
            "--no-privileges",
            "--no-password",
            f"--snapshot={snapshot}",
            f"--file={target}",
        )
        return _tables(cursor)


def check_copy(file: Path, tables: dict[str, Table]) -> None:
    """Refuse a dump whose contents PostgreSQL cannot list, or that lacks one of the tables."""
    listed = _run("pg_restore", "--list", str(file))
    missing = [name for name in tables if f" TABLE DATA {_SCHEMA} {name} " not in listed]
    if missing:
        raise BadBackup(
            f"The backup holds no table {missing[0]}.", remedy="Take another backup; nothing was changed."
        )


@contextmanager
def stopped() -> Iterator[None]:
    """Refuse to go on while other programs are connected to the kitchen's database."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
            "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
        )
        (others,) = cursor.fetchone()
    if others:
        raise BadBackup(
            f"{others} other connections to the kitchen's database are open.",
            remedy="Stop web servers, workers and beat, then try again; nothing was changed.",
        )
    yield


def put_in_place(file: Path, tables: dict[str, Table]) -> None:
    """Put the dump's content in the place of the kitchen's and compare every table, in one transaction.

    All of it or nothing.
    """
    connection.close()
    clear, script, compare = (file.with_name(f"{part}.sql") for part in ("clear", "script", "compare"))
    clear.write_text(_CLEAR.format(schema=_SCHEMA), encoding="utf-8")
    _run("pg_restore", "--no-owner", "--no-privileges", f"--file={script}", str(file))
    compare.write_text(_comparison(tables), encoding="utf-8")
    _run(
        "psql",
        "--no-psqlrc",
        "--quiet",
        "--no-password",
        "--single-transaction",
        "--set=ON_ERROR_STOP=1",
        "--output=/dev/null",
        *(f"--file={one}" for one in (clear, script, compare)),
    )


def tables_now() -> dict[str, Table]:
    """What the database at hand holds."""
    with transaction.atomic(), connection.cursor() as cursor:
        return _tables(cursor)


def _tables(cursor: CursorWrapper) -> dict[str, Table]:
    for setting in _PLAIN_TEXT:
        cursor.execute(setting)
    cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = %s ORDER BY tablename", [_SCHEMA])
    tables = {}
    for (name,) in cursor.fetchall():
        cursor.execute(_TABLE.format(schema=_SCHEMA, name=name))
        rows, checksum = cursor.fetchone()
        tables[name] = Table(rows=rows, checksum=checksum)
    return tables


def _comparison(tables: dict[str, Table]) -> str:
    """A script that fails on the first table that is not what was saved."""
    held = [
        _HELD.format(
            name=name,
            rows=table.rows,
            checksum=table.checksum,
            query=_TABLE.format(schema=_SCHEMA, name=name),
        )
        for name, table in tables.items()
    ]
    settings = "".join(f"{setting};\n" for setting in _PLAIN_TEXT)
    return f"{settings}DO $compare$\nDECLARE held record;\nBEGIN{''.join(held)}\nEND $compare$;\n"


def _run(program: str, *arguments: str) -> str:
    """What one of PostgreSQL's programs says. It finds the kitchen's database, and the password, in its environment."""
    found = shutil.which(program)
    if found is None:
        raise BadBackup(
            f"PostgreSQL's program {program} is not installed here.",
            remedy="Install the client programs of the server's version (Debian: apt install postgresql-client).",
        )
    ran = subprocess.run([found, *arguments], env=_environment(), capture_output=True, text=True, check=False)
    if ran.returncode:
        said = ran.stderr.strip().splitlines() or [f"It ended with status {ran.returncode}."]
        raise BadBackup(
            f"{program} did not do it: {said[0]}",
            remedy="Nothing was changed. Its programs must be of the server's version or newer, and have room.",
        )
    return ran.stdout


def _environment() -> dict[str, str]:
    """Nothing of it stands on a command line, where others on the machine could read it."""
    chosen = connection.settings_dict
    places = {
        "PGHOST": chosen["HOST"],
        "PGPORT": chosen["PORT"],
        "PGUSER": chosen["USER"],
        "PGPASSWORD": chosen["PASSWORD"],
        "PGDATABASE": chosen["NAME"],
        "PGSSLMODE": chosen["OPTIONS"].get("sslmode"),
        "PGSSLROOTCERT": chosen["OPTIONS"].get("sslrootcert"),
    }
    ours = {name: value for name, value in os.environ.items() if not name.startswith("PG")}
    return ours | {name: str(value) for name, value in places.items() if value}
