"""The two health pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client


def test_the_process_answers_without_a_database(client: Client) -> None:
    answer = client.get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"ok\n")


@pytest.mark.django_db
def test_it_is_ready_when_every_migration_ran(client: Client) -> None:
    answer = client.get("/readyz")
    assert answer.status_code == 200
    assert answer.json() == {"ready": True, "database": "ok", "migrations": "ok"}
    assert "no-store" in answer.headers["Cache-Control"]


@pytest.mark.django_db
def test_it_is_not_ready_while_a_migration_waits(client: Client) -> None:
    MigrationRecorder(connection).record_unapplied("audit", "0002_append_only")
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json() == {"ready": False, "database": "ok", "migrations": "waiting"}


@pytest.fixture
def lost_database(transactional_db: None) -> Iterator[None]:
    """A database whose connection cannot be opened."""
    name = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = "/nowhere/kitchen.sqlite3"
    yield
    connection.settings_dict["NAME"] = name


@pytest.mark.sqlite
@pytest.mark.usefixtures("lost_database")
def test_it_is_not_ready_without_its_database(client: Client) -> None:
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json() == {"ready": False, "database": "unreachable", "migrations": "unknown"}


def test_health_is_only_read(client: Client) -> None:
    assert client.post("/healthz").status_code == 405
    assert client.post("/readyz").status_code == 405
