"""The front door of the drills: apart from the kitchen, and honest in its exit status."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from kitchen.bench.processes import PROJECT, Place, environment
from kitchen.drill import registry
from kitchen.drill.report import Drill, Report, Sizes


@pytest.fixture
def inside(settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As in the process in which a drill takes place."""
    settings.SETTINGS_MODULE = "kitchen.bench.process_settings"
    monkeypatch.setenv("KITCHEN_DATA", str(tmp_path))


def put_in_place(monkeypatch: pytest.MonkeyPatch, drill: Drill) -> None:
    monkeypatch.setitem(registry.DRILLS, "beats", drill)


@pytest.mark.sqlite
def test_a_drill_takes_place_apart_from_the_kitchen(tmp_path: Path) -> None:
    made = subprocess.run(
        [sys.executable, "-m", "kitchen", "drill", "kill", "--kills", "2", "--reminders", "6"],
        cwd=PROJECT,
        env={
            **os.environ,
            "KITCHEN_DATA": str(tmp_path),
            "KITCHEN_SMTP_URL": "smtp://127.0.0.1:1",
            "DJANGO_SETTINGS_MODULE": "kitchen.settings",
        },
        capture_output=True,
        text=True,
        check=True,
    )
    assert made.stdout.startswith("sqlite: 6 reminders, 2 sweepers shot")
    assert "BROKEN" not in made.stdout
    assert not (tmp_path / "kitchen.sqlite3").exists()
    assert list((tmp_path / "mail").iterdir()) == []


def test_its_processes_know_nothing_of_the_kitchens_mail_broker_and_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("KITCHEN_SMTP_URL", "KITCHEN_BROKER_URL", "KITCHEN_URL", "KITCHEN_SECRET_KEY_FILE"):
        monkeypatch.setenv(name, "the kitchen's own")
    told = environment(tmp_path, "the drill's")
    assert "the kitchen's own" not in told.values()
    assert (told["KITCHEN_DATA"], told["KITCHEN_APART_DATABASE"]) == (str(tmp_path), "the drill's")


@pytest.mark.usefixtures("inside")
def test_a_broken_promise_fails_the_drill(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(sizes: Sizes, place: Place, report: Report) -> None:
        report.promise("the first", kept=True)
        report.promise("the second", kept=False)

    put_in_place(monkeypatch, Drill(name="beats", about="", sizes={"control": 1}, minutes=1, run=run))
    with pytest.raises(CommandError, match=r"^Broken: the second\.$"):
        call_command("drill", "beats")
    assert capsys.readouterr().out.splitlines() == ["kept    the first", "BROKEN  the second"]


@pytest.mark.usefixtures("inside")
def test_a_drill_that_is_broken_off_fails_and_shows_what_the_workers_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(sizes: Sizes, place: Place, report: Report) -> None:
        place.log.write_text("the worker's last words\n")
        raise TimeoutError("A sweep did not happen.")

    put_in_place(monkeypatch, Drill(name="beats", about="", sizes={}, minutes=1, run=run))
    with pytest.raises(CommandError, match=r"^Broken off: A sweep did not happen\.$"):
        call_command("drill", "beats")
    assert "the worker's last words" in capsys.readouterr().err


def test_nothing_of_something_is_refused() -> None:
    with pytest.raises(CommandError, match="at least one"):
        call_command("drill", "kill", "--kills", "0")
