"""Two sweeps, or a sweep and a correction, that meet at the same row at the same moment."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier, Event
from time import sleep

import pytest
from django.core.mail import EmailMessage
from django.db import connection, transaction

from kitchen.planning.models import Load
from kitchen.reminders.actions import cancel_for_portion, move_due, schedule_for_load
from kitchen.reminders.clock import Reading
from kitchen.reminders.models import Notice, Reminder, State
from kitchen.reminders.sweeping import Swept, sweep_due
from tests.factories.loads import load_of_one

pytestmark = pytest.mark.django_db(transaction=True)

OUT = datetime(2026, 9, 12, 18, 10, tzinfo=UTC)
FIRST_CALL = OUT + timedelta(hours=12)


class MeetingClock:
    """A clock that stands still. A sweep waits at it once, between choosing what to send and claiming it."""

    def __init__(self, meet: Callable[[], object]) -> None:
        self.asked = 0
        self.meet = meet

    def __call__(self) -> Reading:
        self.asked += 1
        if self.asked == 2:
            self.meet()
        return Reading(wall=FIRST_CALL, elapsed_seconds=0, boot_id="")


def sweep_in_thread(meet: Callable[[], object]) -> Swept:
    try:
        return sweep_due(clock=MeetingClock(meet))
    finally:
        connection.close()


@pytest.fixture
def load() -> Load:
    load = load_of_one(process_ended_at=OUT)
    with transaction.atomic():
        schedule_for_load(load=load, jars_out_at=OUT)
    return load


@pytest.mark.parametrize("sweeps", [2, 4])
@pytest.mark.parametrize("round_", range(5))
def test_sweeps_that_claim_at_the_same_moment_send_one_message_and_one_notice(
    load: Load, sweeps: int, round_: int, mailoutbox: list[EmailMessage]
) -> None:
    barrier = Barrier(sweeps, timeout=20)
    with ThreadPoolExecutor(sweeps) as threads:
        swept = [threads.submit(sweep_in_thread, barrier.wait) for _ in range(sweeps)]
        sent = sorted(one.result(timeout=40).sent for one in swept)
    assert sent == [0] * (sweeps - 1) + [1]
    assert (len(mailoutbox), Notice.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("change", "state"),
    [
        (lambda load: move_due(load=load, jars_out_at=OUT + timedelta(hours=2)), State.DUE),
        (lambda load: cancel_for_portion(portion=load.portions.get(), now=FIRST_CALL), State.CANCELLED),
    ],
    ids=["corrected", "cancelled"],
)
def test_a_reminder_changed_while_a_sweep_is_about_to_claim_it_is_not_sent(
    load: Load, change: Callable[[Load], object], state: State, mailoutbox: list[EmailMessage]
) -> None:
    about_to_claim, go = Event(), Event()

    def meet() -> None:
        about_to_claim.set()
        assert go.wait(20)

    with ThreadPoolExecutor(1) as threads:
        swept = threads.submit(sweep_in_thread, meet)
        assert about_to_claim.wait(20)
        with transaction.atomic():
            change(load)
            go.set()
            sleep(0.2)  # The sweep runs into the change that is not committed yet.
        assert swept.result(timeout=40).sent == 0
    assert mailoutbox == []
    assert [reminder.state for reminder in Reminder.objects.order_by("due_at")] == [state, state]
