"""No task may wait long in a broker: a broker may lose it, or deliver it again and again."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from celery import Task, signature
from django.conf import settings
from django.test import override_settings

from kitchen.celery import KitchenTasks, app, check_wait
from kitchen.errors import TaskTooFarAhead

NOON = datetime(2026, 9, 12, 12, tzinfo=UTC)
NAME = "tests.deploy.press_the_lids"


@pytest.fixture
def queue(tmp_path: Path) -> Path:
    """The folder in which an embedded broker's messages lie."""
    (tmp_path / "control").mkdir()
    return tmp_path


@pytest.fixture
def tasks(queue: Path) -> KitchenTasks:
    """A Celery app of the program's kind on that broker."""
    own = KitchenTasks("kitchen-tests", set_as_current=False)
    own.conf.update(
        broker_url="filesystem://localhost",
        broker_transport_options={
            "data_folder_in": str(queue),
            "data_folder_out": str(queue),
            "control_folder": str(queue / "control"),
        },
    )
    return own


@pytest.fixture
def press_the_lids(tasks: KitchenTasks) -> Task[[], None]:
    """A task of that app. It is sent, never run."""

    def press() -> None:
        raise AssertionError

    return tasks.task(name=NAME)(press)


def names_sent(queue: Path) -> list[str]:
    return [json.loads(file.read_text())["headers"]["task"] for file in sorted(queue.glob("*.msg"))]


@pytest.mark.parametrize("countdown", [None, 0, 1, 300])
def test_five_minutes_are_allowed(countdown: float | None) -> None:
    check_wait(NAME, countdown, None, now=NOON)


@pytest.mark.parametrize("countdown", [300.001, 360, 24 * 3600])
def test_more_is_refused_as_seconds(countdown: float) -> None:
    with pytest.raises(TaskTooFarAhead):
        check_wait(NAME, countdown, None, now=NOON)


def test_a_time_is_judged_like_seconds() -> None:
    check_wait(NAME, None, NOON + timedelta(minutes=5), now=NOON)
    with pytest.raises(TaskTooFarAhead):
        check_wait(NAME, None, NOON + timedelta(minutes=5, microseconds=1), now=NOON)


def test_a_time_without_zone_is_utc() -> None:
    naive = (NOON + timedelta(minutes=6)).replace(tzinfo=None)
    with pytest.raises(TaskTooFarAhead) as refusal:
        check_wait(NAME, None, naive, now=NOON)
    assert refusal.value.message == f"{NAME} would wait in the broker for 0:06:00."


def test_a_short_countdown_does_not_hide_a_late_time() -> None:
    with pytest.raises(TaskTooFarAhead):
        check_wait(NAME, 1, NOON + timedelta(hours=24), now=NOON)


def test_every_way_of_sending_is_watched(
    tasks: KitchenTasks, press_the_lids: Task[[], None], queue: Path
) -> None:
    late = datetime.now(UTC) + timedelta(hours=24)
    with pytest.raises(TaskTooFarAhead):
        press_the_lids.apply_async(countdown=360)
    with pytest.raises(TaskTooFarAhead):
        press_the_lids.apply_async(eta=late)
    with pytest.raises(TaskTooFarAhead):
        tasks.send_task(NAME, eta=late)
    with pytest.raises(TaskTooFarAhead):
        signature(NAME, app=tasks).apply_async(countdown=360)
    assert names_sent(queue) == []


def test_a_task_that_is_due_reaches_the_broker(press_the_lids: Task[[], None], queue: Path) -> None:
    press_the_lids.delay()
    press_the_lids.apply_async(countdown=60)
    assert names_sent(queue) == [NAME, NAME]


@pytest.mark.redis
def test_redis_takes_a_task_and_never_a_late_one(redis_url: str) -> None:
    with override_settings(CELERY_BROKER_URL=redis_url, CELERY_BROKER_TRANSPORT_OPTIONS={}):
        tasks = KitchenTasks("kitchen-on-redis", set_as_current=False)
        tasks.config_from_object("django.conf:settings", namespace="CELERY")
        tasks.send_task(NAME, queue="tests")
        with pytest.raises(TaskTooFarAhead):
            tasks.send_task(NAME, queue="tests", countdown=360)
        with tasks.connection_for_read() as connection:
            waiting = connection.SimpleQueue("tests")
            message = waiting.get(timeout=5)
            message.ack()
            assert message.headers["task"] == NAME
            with pytest.raises(waiting.Empty):
                waiting.get(block=False)
            waiting.close()


def test_the_sweep_is_woken_and_stale_wakings_expire() -> None:
    entry = app.conf.beat_schedule["sweep_due"]
    assert entry["task"] == "kitchen.reminders.tasks.sweep_due"
    assert entry["schedule"] == entry["options"]["expires"] == settings.SWEEP_SECONDS == 30
