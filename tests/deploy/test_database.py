"""The database as the settings make it, from zero."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

pytestmark = pytest.mark.django_db


def pragma(name: str) -> object:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA {name}")
        return cursor.fetchone()[0]


def test_every_migration_ran_from_zero() -> None:
    executor = MigrationExecutor(connection)
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []


def test_the_models_say_nothing_that_no_migration_says() -> None:
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)


@pytest.mark.sqlite
def test_the_file_lets_readers_read_while_one_writes() -> None:
    assert connection.vendor == "sqlite"
    assert {name: pragma(name) for name in ("journal_mode", "synchronous", "foreign_keys")} == {
        "journal_mode": "wal",
        "synchronous": 1,  # NORMAL
        "foreign_keys": 1,
    }


@pytest.mark.postgres
def test_this_leg_really_runs_on_postgresql() -> None:
    assert connection.vendor == "postgresql"
