"""The benches of reminders and of feeds, at their smallest."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from kitchen.bench.bridge import made_up_agenda, plain_calendar, written_agenda
from kitchen.bench.processes import PROJECT


@pytest.mark.redis
def test_reminders_leave_by_workers_and_are_measured_beside_a_loop(tmp_path: Path) -> None:
    words = ["--reminders", "60", "--workers", "2", "--waiting", "5", "60"]
    made = subprocess.run(
        [sys.executable, "-m", "kitchen", "bench", "reminders", *words],
        cwd=PROJECT,
        env={**os.environ, "KITCHEN_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "kitchen.settings"},
        capture_output=True,
        text=True,
        check=True,
    )
    first, _, loop, own, crew, _, few, many, _ = made.stdout.splitlines()
    assert first == "sqlite and Redis, 60 due reminders"
    assert re.match(r"the bare loop +\d+ +1\.00$", loop)
    assert re.match(r"... making its own mails +\d+ +\d+\.\d\d$", own)
    assert re.match(r"workers: 2 +\d+ +\d+\.\d\d$", crew)
    assert few.split()[0] == "5"
    assert many.split()[0] == "60"
    assert list((tmp_path / "mail").iterdir()) == []
    assert not (tmp_path / "kitchen.sqlite3").exists()


def test_a_feed_is_measured_beside_the_same_entries(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("bench", "feed", "--events", "3", "--times", "1")
    assert re.match(r"3 entries: \d+ ms, icalendar by itself \d+ ms, ratio \d", capsys.readouterr().out)
    agenda = made_up_agenda(3)
    assert written_agenda(agenda).count(b"BEGIN:VEVENT") == plain_calendar(agenda).count(b"BEGIN:VEVENT") == 3


def test_nothing_of_something_is_refused() -> None:
    for what in ("reminders", "events"):
        with pytest.raises(CommandError, match="at least one"):
            call_command("bench", "reminders" if what == "reminders" else "feed", f"--{what}", "0")
