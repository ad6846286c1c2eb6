"""Real workers and beats, on a broker of files and on Redis: a lost message costs time, no reminder."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from kitchen.bench.paper_mail import sent_ids
from kitchen.bench.processes import Place, end_group, ended_after, start_celery
from kitchen.drill.beats import BEATS
from kitchen.drill.broker import BROKER
from kitchen.drill.report import Drill, Report
from kitchen.drill.under_celery import fall_due, wait_for
from kitchen.reminders.models import Notice

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_embedded_worker_sends_what_is_due_and_starts_again_after_a_shot(tmp_path: Path) -> None:
    place = Place(folder=tmp_path)
    embedded = ("worker", "-B", "-P", "solo", "--without-gossip", "--without-mingle")
    first = fall_due(1, timedelta())
    with ended_after([]) as running:
        running.append(start_celery(place.environment(), place.log, *embedded))
        wait_for(first, what="The first message")
        end_group(running.pop())
        queue = tmp_path / "queue" / "messages"
        shutil.rmtree(queue)  # Whatever was under way in the broker is gone.
        queue.mkdir()
        second = fall_due(1, timedelta())
        running.append(start_celery(place.environment(), place.log, *embedded))
        wait_for(second, what="The second message")
    assert sent_ids(place.mail_file) == [f"<reminder-{one.pk}@localhost>" for one in (*first, *second)]
    assert Notice.objects.count() == 2


@pytest.mark.redis
@pytest.mark.parametrize(
    ("drill", "sizes"),
    [(BROKER, {"reminders": 12, "stopped": 3, "control": 2}), (BEATS, {"reminders": 6, "control": 1})],
    ids=["broker", "beats"],
)
def test_every_reminder_goes_out_once_and_what_waits_in_the_broker_does_not(
    drill: Drill, sizes: dict[str, int], tmp_path: Path
) -> None:
    report = Report(tell=lambda _: None)
    drill.run(sizes, Place(folder=tmp_path), report)
    assert report.broken == []
