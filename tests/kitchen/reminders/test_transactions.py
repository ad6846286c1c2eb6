"""Reminders, and the real transaction of the record they follow: committed or rolled back."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import UTC, datetime
from time import monotonic

import pytest
from celery import current_app
from celery.signals import after_task_publish
from django.db import transaction
from pytest_django import DjangoCaptureOnCommitCallbacks

from kitchen.errors import TaskTooFarAhead
from kitchen.hints import send_hint
from kitchen.reminders.actions import cancel_for_portion, move_due, schedule_for_load
from kitchen.reminders.models import Reminder
from kitchen.reminders.sweeping import SWEEP_TASK
from kitchen.reminders.tasks import sweep_due
from tests.factories.loads import load_of_one

OUT = datetime(2026, 9, 12, 18, 10, tzinfo=UTC)


@pytest.fixture
def published() -> Iterator[list[str]]:
    """The names of the tasks that reached the broker."""
    names: list[str] = []

    def note(sender: str | None = None, **_: object) -> None:
        names.append(str(sender))

    after_task_publish.connect(note)
    yield names
    after_task_publish.disconnect(note)


@contextmanager
def redis_that_refuses() -> Iterator[str]:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        address = f"redis://127.0.0.1:{door.getsockname()[1]}/0"
    yield address


@contextmanager
def redis_that_hangs() -> Iterator[str]:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        door.listen()
        yield f"redis://127.0.0.1:{door.getsockname()[1]}/0"


@pytest.mark.django_db(transaction=True)
def test_reminders_are_refused_outside_a_transaction() -> None:
    load = load_of_one()
    writes: list[Callable[[], object]] = [
        lambda: schedule_for_load(load=load, jars_out_at=OUT),
        lambda: move_due(load=load, jars_out_at=OUT),
        lambda: cancel_for_portion(portion=load.portions.get()),
    ]
    for write in writes:
        with pytest.raises(transaction.TransactionManagementError):
            write()
    assert not Reminder.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_record_rolled_back_leaves_no_reminder_and_no_hint(published: list[str]) -> None:
    load = load_of_one()
    with transaction.atomic():
        assert len(schedule_for_load(load=load, jars_out_at=OUT)) == 2
        transaction.set_rollback(True)
    assert not Reminder.objects.exists()
    assert published == []


@pytest.mark.django_db(transaction=True)
def test_a_record_kept_leaves_reminders_and_one_hint_after_the_commit(published: list[str]) -> None:
    load = load_of_one()
    with transaction.atomic():
        schedule_for_load(load=load, jars_out_at=OUT)
        assert published == []
    assert Reminder.objects.count() == 2
    assert published == [SWEEP_TASK]


@pytest.mark.parametrize("broken_redis", [redis_that_refuses, redis_that_hangs])
@pytest.mark.django_db
def test_jars_out_does_not_wait_for_a_broker_that_is_down(
    broken_redis: Callable[[], AbstractContextManager[str]],
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    """The bar is a second; a broker that hangs is given up after a fifth of one."""
    load = load_of_one()
    with broken_redis() as address:
        monkeypatch.setitem(current_app.conf, "broker_url", address)
        monkeypatch.setitem(current_app.conf, "broker_transport_options", {})
        began = monotonic()
        with django_capture_on_commit_callbacks(execute=True):
            schedule_for_load(load=load, jars_out_at=OUT)
        assert monotonic() - began < 1
        assert send_hint(SWEEP_TASK) is False
    assert Reminder.objects.count() == 2


@pytest.mark.parametrize("seconds", [360, 24 * 3600])
def test_a_sweep_that_would_wait_for_six_minutes_in_the_broker_is_refused(seconds: int) -> None:
    with pytest.raises(TaskTooFarAhead):
        sweep_due.apply_async(countdown=seconds)
