"""The two health pages."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
from celery import current_app
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.utils import timezone

from kitchen import readiness
from kitchen.reminders.actions import schedule_for_load
from kitchen.reminders.models import SweepRun
from tests.deploy.waiting import free_port
from tests.factories.loads import load_of_one


def test_the_process_answers_without_a_database(client: Client) -> None:
    answer = client.get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"ok\n")


def swept(*, seconds_ago: float, finished: bool = True) -> None:
    wall = timezone.now() - timedelta(seconds=seconds_ago)
    SweepRun.objects.create(wall=wall, elapsed_seconds=1, finished_at=wall if finished else None)


@pytest.mark.django_db
def test_it_is_ready_when_every_migration_ran_and_the_queue_is_swept(client: Client) -> None:
    swept(seconds_ago=30)
    answer = client.get("/readyz")
    assert answer.status_code == 200
    assert answer.json() == {
        "ready": True,
        "degraded": False,
        "database": "ok",
        "migrations": "ok",
        "sweep": "ok",
        "reminders": "ok",
        "queue": "ok",
        "disk": "ok",
    }
    assert "no-store" in answer.headers["Cache-Control"]


@pytest.mark.django_db
def test_a_worker_that_does_not_sweep_is_told_while_pages_go_on(client: Client) -> None:
    never = client.get("/readyz")
    swept(seconds_ago=130)
    swept(seconds_ago=1, finished=False)
    late = client.get("/readyz")
    assert (never.status_code, never.json()["degraded"], never.json()["sweep"]) == (200, True, "never")
    assert (late.status_code, late.json()["degraded"], late.json()["sweep"]) == (200, True, "late")


@pytest.mark.django_db
def test_it_is_not_ready_while_a_migration_waits(client: Client) -> None:
    MigrationRecorder(connection).record_unapplied("audit", "0002_append_only")
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert answer.json() == {
        "ready": False,
        "degraded": True,
        "database": "ok",
        "migrations": "waiting",
        "sweep": "unknown",
        "reminders": "unknown",
        "queue": "ok",
        "disk": "ok",
    }


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
    assert answer.json()["database"] == "unreachable"
    assert answer.json()["migrations"] == "unknown"


def test_health_is_only_read(client: Client) -> None:
    assert client.post("/healthz").status_code == 405
    assert client.post("/readyz").status_code == 405


@pytest.mark.django_db
def test_a_reminder_that_should_have_gone_out_is_told(client: Client) -> None:
    load = load_of_one(process_ended_at=timezone.now() - timedelta(hours=13, minutes=30))
    schedule_for_load(load=load, jars_out_at=timezone.now() - timedelta(hours=12, minutes=3))
    swept(seconds_ago=30)
    answer = client.get("/readyz")
    assert answer.status_code == 200
    assert (answer.json()["sweep"], answer.json()["reminders"]) == ("ok", "late")


@pytest.mark.django_db
def test_a_broker_that_does_not_answer_is_told_while_pages_go_on(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    swept(seconds_ago=30)
    monkeypatch.setattr(current_app.conf, "broker_write_url", f"redis://127.0.0.1:{free_port()}/0")
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()["degraded"], answer.json()["queue"]) == (
        200,
        True,
        "unreachable",
    )


@pytest.mark.django_db
def test_a_disk_that_fills_up_is_told_while_pages_go_on(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    swept(seconds_ago=30)
    monkeypatch.setattr(readiness, "LEAST_FREE_BYTES", 10**18)
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()["degraded"], answer.json()["disk"]) == (200, True, "low")
