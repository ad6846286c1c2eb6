"""A backup, and the way back, on the database at hand."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from pytest_django import Settings

from kitchen.audit.models import AuditEvent
from kitchen.backup import manifest, sqlite
from kitchen.backup.actions import back_up, restore
from kitchen.errors import BadBackup, BadConfiguration
from kitchen.members.models import Kitchen, User
from kitchen.serve.prepare import lock_data_folder
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def backup(tmp_path: Path) -> Path:
    """A backup of a kitchen; one of its people is renamed afterwards."""
    make_site()
    file = tmp_path / "backup"
    back_up(file)
    User.objects.update(display_name="Renamed since")
    return file


def test_everything_is_as_it_was(tmp_path: Path) -> None:
    make_site()
    names, lines = _names(), AuditEvent.objects.count()
    back_up(tmp_path / "backup")
    User.objects.update(display_name="Renamed since")
    User.objects.create_user("newcomer@kitchen.example", "Newcomer")
    restored = restore(tmp_path / "backup", replace=True)
    assert _names() == names
    assert AuditEvent.objects.count() == lines
    assert restored.manifest.tables["members_user"].rows == len(names)
    assert restored.same_key


def test_a_database_with_kitchens_is_overwritten_only_when_asked_to(backup: Path) -> None:
    name = Kitchen.objects.get().name
    with pytest.raises(BadBackup, match=f"holds kitchens already: {name}"):
        restore(backup, replace=False)
    assert set(_names()) == {"Renamed since"}


def test_an_empty_database_needs_no_asking(backup: Path) -> None:
    call_command("flush", interactive=False, verbosity=0)
    restore(backup, replace=False)
    assert Kitchen.objects.count() == 1


def test_a_newer_program_and_another_database_are_refused(
    backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as changed:
        changed.setattr(connection, "vendor", "another")
        with pytest.raises(BadBackup, match="set up for another"):
            restore(backup, replace=True)
    with monkeypatch.context() as changed:
        changed.setattr(manifest, "FORMAT", 0)
        with pytest.raises(BadBackup, match="of format 1; this program reads 0"):
            restore(backup, replace=True)
    MigrationRecorder(connection).record_applied("audit", "9999_later")
    back_up(backup.with_name("later"))
    MigrationRecorder(connection).record_unapplied("audit", "9999_later")
    with pytest.raises(BadBackup, match=r"does not know audit\.9999_later"):
        restore(backup.with_name("later"), replace=True)
    assert set(_names()) == {"Renamed since"}


def test_the_secret_key_is_not_in_it_and_another_is_told(
    backup: Path, tmp_path: Path, settings: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    assert settings.SECRET_KEY.encode() not in backup.read_bytes()
    settings.SECRET_KEY = "another key, with which nothing was signed before this very moment"  # noqa: S105
    call_command("restore", str(backup), "--replace")
    assert "everybody signs in again" in capsys.readouterr().out
    call_command("backup", str(tmp_path / "again"))
    told = capsys.readouterr().out
    assert "Keep that apart" in told
    call_command("restore", str(tmp_path / "again"), "--replace")
    assert "everybody signs in again" not in capsys.readouterr().out


@pytest.mark.sqlite
def test_a_kitchen_that_is_served_is_not_overwritten(backup: Path) -> None:
    with lock_data_folder(Path(settings.KITCHEN_DATA)), pytest.raises(BadConfiguration, match="being served"):
        restore(backup, replace=True)
    assert set(_names()) == {"Renamed since"}


@pytest.mark.sqlite
def test_a_program_in_the_middle_of_writing_keeps_what_it_has(
    backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite, "_PATIENCE_SECONDS", 0)
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(BadBackup, match="Another program holds"):
            restore(backup, replace=True)
        other.rollback()
    assert set(_names()) == {"Renamed since"}


@pytest.mark.sqlite
def test_rows_that_are_not_those_that_were_saved_are_refused(
    backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a faulty disk might give them, past every digest of the file."""
    monkeypatch.setattr(sqlite, "tables_of", lambda file: {})
    with pytest.raises(BadBackup, match="database is faulty"):
        restore(backup, replace=True)
    assert set(_names()) == {"Renamed since"}


@pytest.fixture
def another_connection() -> Iterator[None]:
    other = connection.copy()
    other.ensure_connection()
    yield
    other.close()


@pytest.mark.postgres
@pytest.mark.usefixtures("another_connection")
def test_a_database_in_use_is_not_overwritten(backup: Path) -> None:
    with pytest.raises(BadBackup, match="1 other connections"):
        restore(backup, replace=True)
    assert set(_names()) == {"Renamed since"}


@pytest.mark.postgres
def test_tables_that_differ_from_what_was_saved_take_everything_back(
    backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as changed:
        changed.setattr("kitchen.backup.postgres._comparison", lambda tables: "SELECT 1/0;")
        with pytest.raises(BadBackup, match="psql did not do it"):
            restore(backup, replace=True)
    assert set(_names()) == {"Renamed since"}


@pytest.mark.postgres
def test_without_postgresql_s_programs_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(BadBackup, match="pg_dump is not installed here") as refused:
        back_up(tmp_path / "backup")
    assert "apt install postgresql-client" in refused.value.remedy
    assert list(tmp_path.iterdir()) == []


def _names() -> list[str]:
    return list(User.objects.order_by("pk").values_list("display_name", flat=True))
