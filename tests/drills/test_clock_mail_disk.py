"""The drills of a moved clock, of a moody mail server and of a full disk, on a small scale."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from kitchen.bench.processes import PROJECT, Place
from kitchen.drill import clock
from kitchen.drill.clock import CLOCK
from kitchen.drill.report import Report
from kitchen.drill.slow_mail import SLOW_MAIL
from kitchen.reminders import runs


@pytest.mark.django_db(transaction=True)
def test_no_reminder_is_early_lost_or_sent_twice_though_the_clock_is_moved(tmp_path: Path) -> None:
    told: list[str] = []
    report = Report(tell=told.append)
    CLOCK.run({"reminders": 20, "steps": 5}, Place(folder=tmp_path), report)
    assert report.broken == []
    assert len(told) == 9, told


@pytest.mark.django_db(transaction=True)
def test_a_sweep_that_believes_the_clock_breaks_the_drills_promises(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(runs, "held_from", lambda _: None)
    monkeypatch.setattr(clock, "_control", lambda *_: None)
    report = Report(tell=lambda _: None)
    CLOCK.run({"reminders": 10, "steps": 1}, Place(folder=tmp_path), report)
    assert [what[:32] for what in report.broken] == ["none went out before its time, bu"[:32]]


@pytest.mark.django_db(transaction=True)
def test_a_moody_mail_server_gets_everything_once(tmp_path: Path) -> None:
    told: list[str] = []
    report = Report(tell=told.append)
    SLOW_MAIL.run({"reminders": 4}, Place(folder=tmp_path), report)
    assert report.broken == []
    assert [line.split()[0] for line in told].count("kept") == 12, told


def test_a_full_disk_loses_nothing_and_leaves_no_half_of_anything(tmp_path: Path) -> None:
    made = subprocess.run(
        [sys.executable, "-m", "kitchen", "drill", "full-disk", "--reminders", "60"],
        cwd=PROJECT,
        env={**os.environ, "KITCHEN_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "kitchen.settings"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    assert "BROKEN" not in made.stdout
    assert [line.split()[0] for line in made.stdout.splitlines()].count("kept") >= 8
