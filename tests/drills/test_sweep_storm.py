"""Sweeps in real processes, shot at random: every reminder goes out, and a repeat can be told to be one."""

from __future__ import annotations

import signal
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.db import transaction

from kitchen.audit.models import AuditEvent
from kitchen.reminders.actions import schedule_for_load
from kitchen.reminders.models import Notice, Reminder, State
from tests.drills.paper_mail import sent_ids
from tests.drills.processes import environment, start_sweepers
from tests.factories.loads import (
    add_portion,
    load_of_one,
    make_batch,
    make_day,
    make_kitchen,
    make_load,
    make_member,
)

pytestmark = pytest.mark.django_db(transaction=True)

PORTIONS = 20


@pytest.fixture
def mail_file(tmp_path: Path) -> Path:
    return tmp_path / "mail"


@pytest.fixture(autouse=True)
def due() -> set[str]:
    """Twenty portions with both reminders due, and one whose are not; the message ids of those due."""
    day = make_day(make_kitchen())
    load = make_load(day)
    member = make_member(day.kitchen)
    for _ in range(PORTIONS):
        add_portion(load, make_batch(day, member))
    long_ago = datetime.now(UTC) - timedelta(hours=25)
    with transaction.atomic():
        schedule_for_load(load=load, jars_out_at=long_ago)
        ids = {f"<reminder-{pk}@localhost>" for pk in Reminder.objects.values_list("pk", flat=True)}
        schedule_for_load(load=load_of_one(), jars_out_at=datetime.now(UTC))
    return ids


def test_every_reminder_goes_out_though_sweeps_are_shot(
    due: set[str], tmp_path: Path, mail_file: Path
) -> None:
    variables = environment(mail_file, KITCHEN_TEST_KILL_CHANCE="0.1")
    shot = 0
    while True:
        sweepers = start_sweepers(4, variables, tmp_path / f"start after {shot}")
        ended = [sweeper.wait(timeout=60) for sweeper in sweepers]
        assert set(ended) <= {0, -signal.SIGKILL}
        shot += ended.count(-signal.SIGKILL)
        if 0 in ended:
            break
    sent = sent_ids(mail_file)
    repeats = len(sent) - len(set(sent))
    assert set(sent) == due, "each went out, under its own id, and none that was not due"
    assert repeats <= shot, "a repeat is a sweep that was shot between mail and commit"
    assert shot > 0, "the drill must shoot somebody"
    done = set(Reminder.objects.filter(state=State.DONE).values_list("pk", flat=True))
    assert {f"<reminder-{pk}@localhost>" for pk in done} == due
    assert set(Notice.objects.values_list("reminder_id", flat=True)) == done
    assert AuditEvent.objects.filter(action="send_reminder").count() == len(done)
    print(f"shot {shot}, sent {len(sent)} for {len(due)}, repeated {repeats}")  # noqa: T201  (shown by pytest -s)


def test_two_sweeps_left_in_peace_send_each_reminder_once(
    due: set[str], tmp_path: Path, mail_file: Path
) -> None:
    sweepers = start_sweepers(2, environment(mail_file), tmp_path / "start")
    assert [sweeper.wait(timeout=60) for sweeper in sweepers] == [0, 0]
    assert Counter(sent_ids(mail_file)) == dict.fromkeys(due, 1)


def test_control_without_claims_two_sweeps_repeat_themselves(
    due: set[str], tmp_path: Path, mail_file: Path
) -> None:
    """Shows that the drill can tell: the same race without the compare-and-swap sends messages twice."""
    sweepers = start_sweepers(2, environment(mail_file), tmp_path / "start", "--without-claims")
    assert [sweeper.wait(timeout=60) for sweeper in sweepers] == [0, 0]
    sent = sent_ids(mail_file)
    assert set(sent) == due
    assert len(sent) > len(due)
