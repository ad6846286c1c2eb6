"""Sweeps in real processes, shot at random: every reminder goes out, and a repeat can be told to be one."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import pytest

from kitchen.bench.paper_mail import sent_ids
from kitchen.bench.processes import Place
from kitchen.bench.sites import make_site
from kitchen.bench.waiting import write_waiting
from kitchen.drill.kill import KILL, storm
from kitchen.drill.report import Report

pytestmark = pytest.mark.django_db(transaction=True)


def test_every_reminder_goes_out_though_sweeps_are_shot(tmp_path: Path) -> None:
    told: list[str] = []
    report = Report(tell=told.append)
    KILL.run({"kills": 12, "reminders": 40}, Place(folder=tmp_path), report)
    assert report.broken == []
    assert len(told) == 11, told


def test_sweepers_left_in_peace_send_each_reminder_once(tmp_path: Path) -> None:
    now, place = datetime.now(UTC), Place(folder=tmp_path)
    rows = write_waiting(make_site(0, members=3, today=now.date()), [now] * 30)
    assert storm(place, until=now) == {"in peace": 4}
    assert Counter(sent_ids(place.mail_file)) == {f"<reminder-{row.pk}@localhost>": 1 for row in rows}


def test_a_storm_that_shot_too_few_breaks_its_promise(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody sweeps at all: the drill must say that nothing went out, not that nothing went wrong."""
    monkeypatch.setattr("kitchen.drill.kill.storm", lambda *_, **__: Counter[str]())
    report = Report(tell=lambda _: None)
    KILL.run({"kills": 1, "reminders": 4}, Place(folder=tmp_path), report)
    assert {"at least 1 were shot", "every reminder went out", "one notice for each"} < set(report.broken)
