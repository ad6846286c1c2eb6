"""Real workers and beats, on a broker of files and on Redis: a lost message costs time, no reminder."""

from __future__ import annotations

import shutil
import socket
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import sleep

import pytest
from celery import Celery
from django.db import transaction
from redis import Redis
from redis.exceptions import ConnectionError as RedisConnectionError

from kitchen.reminders.actions import SWEEP_TASK, schedule_for_load
from kitchen.reminders.models import Kind, Notice, Reminder, State, SweepRun
from tests.drills.paper_mail import sent_ids
from tests.drills.processes import end_group, environment, start_celery, wait_until
from tests.factories.loads import load_of_one

pytestmark = pytest.mark.django_db(transaction=True)

LONG = 60
CONTROL_TASK = "tests.drills.control_task.note"
Start = Callable[..., subprocess.Popen[bytes]]


@pytest.fixture
def mail_file(tmp_path: Path) -> Path:
    return tmp_path / "mail"


@pytest.fixture
def start(mail_file: Path) -> Iterator[Start]:
    """Starts workers and beats, and ends all of them at the end of the test."""
    running: list[subprocess.Popen[bytes]] = []

    def one(*arguments: str, **variables: str) -> subprocess.Popen[bytes]:
        running.append(start_celery(environment(mail_file, **variables), *arguments))
        return running[-1]

    yield one
    for process in running:
        end_group(process)


def due_first_call(after: timedelta = timedelta()) -> str:
    """The message id of a first call that is due after so long."""
    load = load_of_one()
    with transaction.atomic():
        schedule_for_load(load=load, jars_out_at=datetime.now(UTC) + after - timedelta(hours=12))
    reminder = Reminder.objects.get(portion__load=load, kind=Kind.FIRST_CALL)
    return f"<reminder-{reminder.pk}@localhost>"


def is_done(message_id: str) -> bool:
    pk = message_id.removeprefix("<reminder-").partition("@")[0]
    return Reminder.objects.get(pk=pk).state == State.DONE


def sweeps() -> int:
    return SweepRun.objects.count()


def test_the_embedded_worker_sends_what_is_due_and_starts_again_after_a_shot(
    start: Start, tmp_path: Path, mail_file: Path
) -> None:
    queue = tmp_path / "queue"
    for folder in ("messages", "control"):
        (queue / folder).mkdir(parents=True)
    embedded = ("worker", "-B", "-P", "solo", "--without-gossip", "--without-mingle")
    first = due_first_call()
    worker = start(*embedded, KITCHEN_TEST_QUEUE=str(queue))
    wait_until(lambda: is_done(first), seconds=LONG, what="the first message")
    end_group(worker)
    shutil.rmtree(queue / "messages")  # Whatever was under way in the broker is gone.
    (queue / "messages").mkdir()
    second = due_first_call()
    start(*embedded, KITCHEN_TEST_QUEUE=str(queue))
    wait_until(lambda: is_done(second), seconds=LONG, what="the second message")
    assert sent_ids(mail_file) == [first, second]
    assert Notice.objects.count() == 2


@contextmanager
def redis_server(port: int, folder: Path) -> Iterator[Redis]:
    """A Redis server of the test's own, that keeps nothing."""
    command = ["redis-server", "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", str(folder)]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    client = Redis(port=port)
    try:
        wait_until(lambda: answers(client), seconds=20, what="Redis")
        yield client
    finally:
        client.close()
        server.kill()
        server.wait(timeout=10)


def answers(client: Redis) -> bool:
    try:
        return bool(client.ping())
    except RedisConnectionError:
        return False


@pytest.fixture
def redis_port(redis_url: str) -> int:
    """A free port for a Redis server that the test may stop; ``redis_url`` says that the leg runs at all."""
    if shutil.which("redis-server") is None:
        pytest.skip("redis-server is not on the path: the server at hand may not be stopped")
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port: int = door.getsockname()[1]
    return port


@pytest.mark.redis
def test_two_beats_and_three_workers_send_each_once_even_when_messages_repeat(
    start: Start, tmp_path: Path, mail_file: Path, redis_port: int
) -> None:
    broker = f"redis://127.0.0.1:{redis_port}/0"
    with redis_server(redis_port, tmp_path):
        for _ in range(3):
            start("worker", "-P", "solo", KITCHEN_TEST_DRILL_REDIS=broker)
        for _ in range(2):
            start("beat", KITCHEN_TEST_DRILL_REDIS=broker)
        wait_until(lambda: sweeps() > 4, seconds=LONG, what="a sweep")
        messages = [due_first_call() for _ in range(6)]
        with Celery(broker=broker) as by_hand:
            for _ in range(3):
                by_hand.send_task(SWEEP_TASK, task_id="one and the same")
        wait_until(lambda: all(map(is_done, messages)), seconds=LONG, what="the messages")
        before = sweeps()
        wait_until(lambda: sweeps() > before + 4, seconds=LONG, what="more sweeps")
    assert Counter(sent_ids(mail_file)) == dict.fromkeys(messages, 1)
    assert Notice.objects.count() == len(messages)


@pytest.mark.redis
def test_redis_emptied_and_stopped_for_a_while_costs_time_and_no_reminder(
    start: Start, tmp_path: Path, mail_file: Path, redis_port: int
) -> None:
    broker = f"redis://127.0.0.1:{redis_port}/0"
    with redis_server(redis_port, tmp_path) as client:
        start("worker", "-P", "solo", KITCHEN_TEST_DRILL_REDIS=broker)
        start("beat", KITCHEN_TEST_DRILL_REDIS=broker)
        wait_until(lambda: sweeps() > 0, seconds=LONG, what="a sweep")
        client.flushall()
        first = due_first_call()
        wait_until(lambda: is_done(first), seconds=LONG, what="the message after the flush")
    second = due_first_call(timedelta(seconds=1))
    sleep(3)  # Beat's period passes three times while there is no broker.
    assert not is_done(second)
    with redis_server(redis_port, tmp_path):
        wait_until(lambda: is_done(second), seconds=LONG, what="the message after the stop")
    assert sent_ids(mail_file) == [first, second]


@pytest.mark.redis
def test_waiting_in_the_broker_repeats_and_waiting_in_the_database_does_not(
    start: Start, tmp_path: Path, mail_file: Path, redis_port: int
) -> None:
    """The control first: without it this proves nothing, for redelivery is rare with the usual settings."""
    broker, control = f"redis://127.0.0.1:{redis_port}/0", tmp_path / "control"
    with redis_server(redis_port, tmp_path):
        for _ in range(2):
            start("worker", "-P", "solo", KITCHEN_TEST_DRILL_REDIS=broker)
        start("beat", KITCHEN_TEST_DRILL_REDIS=broker)
        wait_until(lambda: sweeps() > 1, seconds=LONG, what="a sweep")
        wait = timedelta(seconds=16)  # Three times as long as the broker waits for an acknowledgement.
        with Celery(broker=broker) as by_hand:
            by_hand.send_task(
                "tests.drills.control_task.note", args=[str(control)], countdown=wait.total_seconds()
            )
        ours = due_first_call(wait)
        wait_until(lambda: is_done(ours) and control.exists(), seconds=LONG, what="either")
        sleep(3)  # Copies run within moments of each other.
    assert len(control.read_text().splitlines()) > 1
    assert sent_ids(mail_file) == [ours]
