"""Measures how fast due reminders leave the kitchen, beside a loop that does nothing but send the same mails."""

from __future__ import annotations

import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic
from typing import Any  # Django passes options as it parsed them.
from unittest.mock import patch

from celery import Celery
from django.core.mail import get_connection
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.test import override_settings

from kitchen.bench.processes import Place, ended_after, start_celery, wait_until
from kitchen.bench.redis_server import free_port, redis_server
from kitchen.bench.scratch import scratch_database
from kitchen.bench.sites import make_site
from kitchen.bench.waiting import write_waiting
from kitchen.reminders import sweeping
from kitchen.reminders.delivery import Post
from kitchen.reminders.mail import mail_of
from kitchen.reminders.message import Message, message_of
from kitchen.reminders.models import Reminder, State, SweepRun
from kitchen.reminders.sweeping import SWEEP_TASK

LEAST_RATIO = 0.6
MOST_GROWTH = 1.25
_LOOP_AT_MOST = 5_000
_LONG_SECONDS = 1_800


class Command(BaseCommand):
    help = (
        "Fill a database of its own with due reminders, have workers on a Redis of their own send them to a mail "
        "server on this machine, and print their rate beside that of a bare loop that sends the same mails; then what "
        "one costs while few or many wait."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--reminders", type=int, default=20_000, help="due at once (20000)")
        parser.add_argument("--workers", type=int, nargs="+", default=[1, 2, 4], help="(1 2 4)")
        parser.add_argument(
            "--waiting", type=int, nargs="+", default=[1_000, 10_000, 100_000], help="(1000 10000 100000)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if min([options["reminders"], *options["workers"], *options["waiting"]]) < 1:
            raise CommandError("Ask for at least one of each.")
        with (
            TemporaryDirectory(prefix="kitchen-bench-") as folder,
            _sink(Path(folder)) as port,
            scratch_database(),
        ):
            # Whatever this process sends goes to that server; nothing goes to the kitchen's own.
            to_sink = override_settings(
                EMAIL_BACKEND="django.core.mail.backends.smtp.EmailBackend",
                EMAIL_HOST="127.0.0.1",
                EMAIL_PORT=port,
                EMAIL_USE_TLS=False,
                EMAIL_USE_SSL=False,
                EMAIL_HOST_USER="",
                EMAIL_HOST_PASSWORD="",
            )
            with to_sink:
                self._rates(Place(folder=Path(folder)), port, options["reminders"], options["workers"])
                self._growth(options["waiting"])

    def _rates(self, place: Place, port: int, many: int, workers: list[int]) -> None:
        self.stdout.write(f"{connection.vendor} and Redis, {many:,} due reminders")
        self.stdout.write(f"{'who':<24} {'a second':>9} {'ratio':>6}")
        ratios = {}
        for number, crew in enumerate(workers):
            rows = _write_hidden(number, many)
            messages = _messages(rows[:_LOOP_AT_MOST])
            loop, own_loop = _loop_rate(messages), _own_loop_rate(messages)
            rate = _crew_rate(place, port, rows, crew)
            ratios[crew] = rate / loop
            self.stdout.write(f"{'the bare loop':<24} {loop:>9.0f} {1:>6.2f}")
            self.stdout.write(f"{'... making its own mails':<24} {own_loop:>9.0f} {own_loop / loop:>6.2f}")
            self.stdout.write(f"{f'workers: {crew}':<24} {rate:>9.0f} {ratios[crew]:>6.2f}")
            self.stdout.flush()
        self.stdout.write(f"The bar is {LEAST_RATIO} at one worker.")

    def _growth(self, waiting: list[int]) -> None:
        """The cost of one, in this process, while so many wait that are due as well."""
        costs = []
        for number, many in enumerate(sorted(waiting)):
            Reminder.objects.filter(state=State.DUE).update(state=State.CANCELLED)
            now = datetime.now(UTC)
            write_waiting(
                make_site(100 + number, members=20, today=now.date()),
                [now - timedelta(milliseconds=one) for one in range(many)],
            )
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
            costs.append(_cost_ms(min(500, many)))
            self.stdout.write(f"{many:>9,} waiting: {costs[-1]:.2f} ms each")
            self.stdout.flush()
        self.stdout.write(
            f"With the most waiting one costs {costs[-1] / costs[0]:.2f} times as much as with the fewest; "
            f"the bar is {MOST_GROWTH}."
        )


@contextmanager
def _sink(folder: Path) -> Iterator[int]:
    """A mail server in a process of its own that takes everything; its port."""
    port = free_port()
    sink = subprocess.Popen(
        [sys.executable, "-m", "kitchen.bench.mail_sink", str(port), str(folder / "taken")],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with override_settings(EMAIL_HOST="127.0.0.1", EMAIL_PORT=port):
            wait_until(_answers, what="The mail server")
        yield port
    finally:
        sink.terminate()
        sink.wait(timeout=10)


def _answers() -> bool:
    mail = get_connection("django.core.mail.backends.smtp.EmailBackend")
    try:
        mail.open()
    except OSError:
        return False
    mail.close()
    return True


def _write_hidden(number: int, many: int) -> list[Reminder]:
    """Reminders that no sweep sees yet, so that all become due at one moment."""
    now = datetime.now(UTC)
    site = make_site(number, members=20, today=now.date())
    rows = write_waiting(site, [now - timedelta(milliseconds=one) for one in range(many)])
    Reminder.objects.filter(kitchen=site.kitchen).update(state=State.CANCELLED)
    return rows


def _messages(rows: list[Reminder]) -> list[Message]:
    now = datetime.now(UTC)
    readers = Reminder.objects.filter(pk__in=[one.pk for one in rows]).select_related(
        "kitchen", "recipient", "portion__batch", "portion__load__canner"
    )
    return [message_of(one, now=now) for one in readers]


def _loop_rate(messages: list[Message]) -> float:
    """How many of the same mails a loop sends in a second that has their words ready and keeps its line.

    It is what a program without a queue would do: it hands them to the mail library, which makes and sends one after
    the other. A worker's mails have the same content and take as many steps of the conversation.
    """
    connection = get_connection()
    mails = [mail_of(one, connection) for one in messages]
    began = monotonic()
    connection.send_messages(mails)
    return len(mails) / (monotonic() - began)


def _own_loop_rate(messages: list[Message]) -> float:
    """The same with the kitchen's own, faster way of making mails: what its queue alone costs."""
    with Post() as post:
        began = monotonic()
        for message in messages:
            post.deliver(message)
        return len(messages) / (monotonic() - began)


def _crew_rate(place: Place, port: int, rows: list[Reminder], workers: int) -> float:
    """How many so many workers send in a second, from one hint on; nothing else wakes them."""
    mine = Reminder.objects.filter(kitchen=rows[0].kitchen)
    redis_port = free_port()
    broker = f"redis://127.0.0.1:{redis_port}/0"
    variables = place.environment(KITCHEN_BROKER_URL=broker, KITCHEN_SMTP_URL=f"smtp://127.0.0.1:{port}")
    with redis_server(redis_port, place.folder), ended_after([]) as running:
        before = SweepRun.objects.filter(finished_at__isnull=False).count()
        running += [start_celery(variables, place.log, "worker", "-P", "solo") for _ in range(workers)]
        # Each sweeps once when it is ready.
        wait_until(
            lambda: SweepRun.objects.filter(finished_at__isnull=False).count() >= before + workers,
            what="The workers",
        )
        mine.update(state=State.DUE)
        began = monotonic()
        with Celery(broker=broker) as by_hand:
            by_hand.send_task(SWEEP_TASK)
        wait_until(
            lambda: not mine.exclude(state=State.DONE).exists(), what="The last", seconds=_LONG_SECONDS
        )
        return len(rows) / (monotonic() - began)


def _cost_ms(most: int) -> float:
    """Milliseconds for each of at most so many that are sent in this process, without a hint to anybody."""
    with patch.object(sweeping, "MOST_A_SWEEP", most), patch.object(sweeping, "send_hint", lambda _: True):
        began = monotonic()
        sent = sweeping.sweep_due().sent
        return (monotonic() - began) * 1000 / sent
