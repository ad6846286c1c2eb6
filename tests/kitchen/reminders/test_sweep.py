"""One sweep after another, with the clock moved by the test."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from typing import ClassVar

import pytest
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.core.management import call_command
from django.db import connection
from pytest_django import Settings

from kitchen.audit.models import AuditEvent
from kitchen.audit.queries import about
from kitchen.errors import AlreadyDecided, NotAllowed
from kitchen.home import queries as start_page
from kitchen.members.models import Role
from kitchen.reminders import queries
from kitchen.reminders.actions import schedule_for_load, see_notice, try_again
from kitchen.reminders.claims import claim, complete, put_off
from kitchen.reminders.clock import Reading, read_clock
from kitchen.reminders.models import Kind, Notice, Reminder, State, SweepRun
from kitchen.reminders.rules import HOLD, LEASE, MOST_ATTEMPTS, MOST_CLAIMS, PAUSES
from kitchen.reminders.runs import KEPT
from kitchen.reminders.sweeping import Swept, sweep_due
from tests.factories.loads import load_of_one, make_member

pytestmark = pytest.mark.django_db

OUT = datetime(2026, 9, 12, 18, 10, tzinfo=UTC)
FIRST_CALL, SEAL_CHECK = OUT + timedelta(hours=12), OUT + timedelta(hours=24)
SECOND = timedelta(seconds=1)
NOTHING = Swept(sent=0, put_off=0, given_up=0, step_seconds=0)
ONE = Swept(sent=1, put_off=0, given_up=0, step_seconds=0)


class BrokenMail(BaseEmailBackend):
    """A mail server that refuses everything while ``broken`` is set, and notes what it took otherwise."""

    broken: ClassVar[bool] = True
    taken: ClassVar[list[str]] = []

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        if self.broken:
            raise ConnectionRefusedError("mail server is down")
        self.taken.extend(str(message.message()["Message-ID"]) for message in email_messages)
        return len(email_messages)


@pytest.fixture
def broken_mail(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> type[BrokenMail]:
    settings.EMAIL_BACKEND = f"{__name__}.BrokenMail"
    monkeypatch.setattr(BrokenMail, "broken", True)
    monkeypatch.setattr(BrokenMail, "taken", [])
    return BrokenMail


@pytest.fixture(autouse=True)
def waiting() -> None:
    """A load whose jars are out; its process ended 62 minutes before."""
    load = load_of_one(process_ended_at=OUT - timedelta(minutes=62))
    schedule_for_load(load=load, jars_out_at=OUT)


def the(kind: Kind) -> Reminder:
    return Reminder.objects.get(kind=kind)


def test_nothing_is_sent_early_and_each_is_sent_once_at_its_time(mailoutbox: list[EmailMessage]) -> None:
    told = [
        sweep_due(now=now)
        for now in (
            OUT,
            FIRST_CALL - SECOND,
            FIRST_CALL,
            FIRST_CALL,
            SEAL_CHECK - SECOND,
            SEAL_CHECK,
            SEAL_CHECK,
        )
    ]
    assert told == [NOTHING, NOTHING, ONE, NOTHING, NOTHING, ONE, NOTHING]
    assert [mail.subject.partition(":")[0] for mail in mailoutbox] == ["First call", "Seal check"]


@pytest.mark.parametrize(
    ("zone", "out"),
    [
        ("America/Denver", datetime(2026, 10, 31, 18, tzinfo=UTC)),
        ("America/Denver", datetime(2026, 3, 7, 19, tzinfo=UTC)),
        ("Europe/Berlin", datetime(2026, 10, 24, 10, tzinfo=UTC)),
        ("Europe/Berlin", datetime(2026, 3, 28, 11, tzinfo=UTC)),
    ],
)
def test_the_seal_check_comes_after_exactly_24_elapsed_hours_across_a_change_of_clocks(
    zone: str, out: datetime, mailoutbox: list[EmailMessage]
) -> None:
    load = load_of_one(time_zone=zone, process_ended_at=out - timedelta(minutes=62))
    schedule_for_load(load=load, jars_out_at=out.astimezone(load.harvest_day.kitchen.zone))
    mine = Reminder.objects.filter(portion__load=load)
    sweep_due(now=out + timedelta(hours=24) - SECOND)
    assert not mine.get(kind=Kind.SEAL_CHECK).done_at
    sweep_due(now=out + timedelta(hours=24))
    assert mine.get(kind=Kind.SEAL_CHECK).done_at == out + timedelta(hours=24)
    assert mine.get(kind=Kind.SEAL_CHECK).late_by == timedelta()


def test_what_was_sent_is_noted_with_its_lateness(mailoutbox: list[EmailMessage]) -> None:
    sweep_due(now=FIRST_CALL + timedelta(minutes=3, seconds=20))
    reminder = the(Kind.FIRST_CALL)
    assert (reminder.state, reminder.attempts, reminder.late_by) == (
        State.DONE,
        1,
        timedelta(minutes=3, seconds=20),
    )
    (notice,) = Notice.objects.all()
    assert (notice.reminder, notice.recipient, notice.created_at, notice.seen_at) == (
        reminder,
        reminder.recipient,
        FIRST_CALL + timedelta(minutes=3, seconds=20),
        None,
    )
    (event,) = about(reminder)
    assert (event.actor, event.kitchen, event.action) == (None, reminder.kitchen, "send_reminder")
    assert (event.before, event.after) == (
        {"state": "sending"},
        {"state": "done", "kind": "first_call", "attempts": 1, "late_seconds": 200},
    )


def test_mail_that_fails_is_tried_again_after_growing_pauses(broken_mail: type[BrokenMail]) -> None:
    now = FIRST_CALL
    for pause in PAUSES:
        assert sweep_due(now=now - SECOND) == NOTHING
        assert sweep_due(now=now) == Swept(sent=0, put_off=1, given_up=0, step_seconds=0)
        now += pause
    broken_mail.broken = False
    assert sweep_due(now=now) == ONE
    assert (the(Kind.FIRST_CALL).attempts, Notice.objects.count()) == (MOST_ATTEMPTS, 1)


def test_the_notice_does_not_wait_for_the_mail(broken_mail: type[BrokenMail]) -> None:
    sweep_due(now=FIRST_CALL)
    (notice,) = Notice.objects.all()
    assert notice.reminder.state == State.DUE
    assert notice.reminder.last_failure == "ConnectionRefusedError: mail server is down"


def give_up() -> Reminder:
    """The first call after every attempt failed."""
    now = FIRST_CALL
    for pause in (*PAUSES, timedelta()):
        sweep_due(now=now)
        now += pause
    return the(Kind.FIRST_CALL)


def test_mail_that_keeps_failing_is_given_up_where_the_lead_sees_it(broken_mail: type[BrokenMail]) -> None:
    reminder = give_up()
    assert (reminder.state, reminder.attempts) == (State.FAILED, MOST_ATTEMPTS)
    assert list(queries.given_up(reminder.kitchen)) == [reminder]
    assert list(queries.overdue(FIRST_CALL + timedelta(hours=6))) == [reminder]
    assert [event.action for event in about(reminder)] == ["give_up_reminder"]
    assert sweep_due(now=FIRST_CALL + timedelta(hours=11)) == NOTHING


def test_a_lead_has_it_tried_again_with_the_same_message_id(broken_mail: type[BrokenMail]) -> None:
    reminder = give_up()
    lead = make_member(reminder.kitchen, "Lead", Role.LEAD)
    broken_mail.broken = False
    with pytest.raises(NotAllowed):
        try_again(reminder=reminder, actor=reminder.recipient)
    try_again(reminder=reminder, actor=lead, now=FIRST_CALL + timedelta(hours=4))
    assert sweep_due(now=FIRST_CALL + timedelta(hours=4)) == ONE
    assert broken_mail.taken == [f"<reminder-{reminder.pk}@localhost>"]
    with pytest.raises(AlreadyDecided):
        try_again(reminder=reminder, actor=lead)


def test_an_address_that_cannot_be_does_not_keep_the_others(mailoutbox: list[EmailMessage]) -> None:
    first = the(Kind.FIRST_CALL)
    first.recipient.display_name = "Ines"
    type(first.recipient).objects.filter(pk=first.recipient_id).update(email="ines@two\r\nlines")
    other = load_of_one(process_ended_at=OUT)
    schedule_for_load(load=other, jars_out_at=OUT)
    assert sweep_due(now=FIRST_CALL) == Swept(sent=1, put_off=1, given_up=0, step_seconds=0)
    first.refresh_from_db()
    assert first.last_failure.startswith("BadHeaderError") or first.last_failure.startswith("ValueError")


def test_a_sweep_that_dies_leaves_its_reminder_to_the_next_after_the_lease(
    mailoutbox: list[EmailMessage],
) -> None:
    assert claim(the(Kind.FIRST_CALL).pk, now=FIRST_CALL, held_from=None) is not None
    assert sweep_due(now=FIRST_CALL + LEASE - SECOND) == NOTHING
    assert sweep_due(now=FIRST_CALL + LEASE) == ONE
    assert the(Kind.FIRST_CALL).attempts == 2


def test_a_reminder_at_which_every_sweep_dies_is_given_up(mailoutbox: list[EmailMessage]) -> None:
    now = FIRST_CALL
    for _ in range(MOST_CLAIMS):
        assert claim(the(Kind.FIRST_CALL).pk, now=now, held_from=None)
        now += LEASE
    assert sweep_due(now=now) == Swept(sent=0, put_off=0, given_up=1, step_seconds=0)
    assert (mailoutbox, Notice.objects.count()) == ([], 1)


def test_who_lost_the_lease_changes_nothing_any_more() -> None:
    pk = the(Kind.FIRST_CALL).pk
    slow = claim(pk, now=FIRST_CALL, held_from=None)
    quick = claim(pk, now=FIRST_CALL + LEASE, held_from=None)
    assert slow
    assert quick
    assert complete([slow], now=FIRST_CALL + LEASE) == 0
    assert put_off(slow, now=FIRST_CALL + LEASE, failure="late") is None
    assert (the(Kind.FIRST_CALL).state, Notice.objects.count()) == (State.SENDING, 0)
    assert complete([quick], now=FIRST_CALL + LEASE) == 1
    assert complete([quick], now=FIRST_CALL + LEASE) == 0
    assert (the(Kind.FIRST_CALL).state, Notice.objects.count()) == (State.DONE, 1)


def test_a_claim_is_won_once() -> None:
    pk = the(Kind.FIRST_CALL).pk
    assert claim(pk, now=FIRST_CALL, held_from=None) is not None
    assert claim(pk, now=FIRST_CALL, held_from=None) is None
    assert claim(uuid.uuid4(), now=FIRST_CALL, held_from=None) is None


def test_only_its_own_person_sees_a_notice_and_the_first_look_counts(mailoutbox: list[EmailMessage]) -> None:
    sweep_due(now=FIRST_CALL)
    notice = Notice.objects.get()
    me, kitchen = notice.recipient, notice.reminder.kitchen
    with pytest.raises(NotAllowed):
        see_notice(notice=notice, actor=make_member(kitchen))
    assert (list(queries.notices_of(me, kitchen)), start_page.unseen_notices(me, kitchen)) == ([notice], 1)
    see_notice(notice=notice, actor=me, now=FIRST_CALL + SECOND)
    see_notice(notice=notice, actor=me, now=FIRST_CALL + 2 * SECOND)
    notice.refresh_from_db()
    assert notice.seen_at == FIRST_CALL + SECOND
    assert (start_page.unseen_notices(me, kitchen), about(notice).count()) == (0, 1)


def test_the_command_says_what_it_did(
    mailoutbox: list[EmailMessage], capsys: pytest.CaptureFixture[str]
) -> None:
    Reminder.objects.filter(kind=Kind.SEAL_CHECK).update(
        jars_out_at=OUT + timedelta(days=36500),
        due_at=SEAL_CHECK + timedelta(days=36500),
        next_attempt_at=SEAL_CHECK + timedelta(days=36500),
    )
    call_command("sweep")
    assert capsys.readouterr().out == "1 sent, 0 put off, 0 given up\n"
    assert queries.last_sweep_at() == SweepRun.objects.latest("pk").wall


class Clock:
    """Clocks that the test sets: the one on the wall, and the one that nobody can set."""

    def __init__(self, wall: datetime, boot_id: str = "boot-1") -> None:
        self.wall, self.elapsed_seconds, self.boot_id = wall, 1000.0, boot_id

    def __call__(self) -> Reading:
        return Reading(wall=self.wall, elapsed_seconds=self.elapsed_seconds, boot_id=self.boot_id)

    def run(self, time: timedelta) -> None:
        """Time passes."""
        self.wall += time
        self.elapsed_seconds += time.total_seconds()

    def step(self, by: timedelta) -> None:
        """Somebody sets the clock on the wall."""
        self.wall += by

    def restart(self, boot_id: str) -> None:
        self.boot_id, self.elapsed_seconds = boot_id, 5.0


def alarms() -> list[float]:
    return [
        event.after["step_seconds"]
        for event in AuditEvent.objects.filter(action="clock_moved").order_by("pk")
    ]


def test_a_clock_set_ahead_raises_an_alarm_and_holds_what_became_due_by_it(
    mailoutbox: list[EmailMessage],
) -> None:
    clock = Clock(OUT)
    assert sweep_due(clock=clock) == NOTHING
    clock.run(timedelta(seconds=30))
    clock.step(timedelta(hours=26))
    assert sweep_due(clock=clock) == Swept(sent=0, put_off=0, given_up=0, step_seconds=26 * 3600)
    clock.run(timedelta(seconds=30))
    assert sweep_due(clock=clock) == NOTHING, "another sweep respects the hold"
    clock.run(HOLD)
    assert sweep_due(clock=clock).sent == 2, "nobody set it right: late is worse than early"
    assert (alarms(), len(mailoutbox)) == ([26 * 3600], 2)


def test_a_clock_set_right_again_during_the_hold_sends_nothing_early_or_twice(
    mailoutbox: list[EmailMessage],
) -> None:
    clock = Clock(OUT)
    sweep_due(clock=clock)
    for step in (timedelta(hours=26), timedelta(hours=-26)):
        clock.run(timedelta(seconds=30))
        clock.step(step)
        assert sweep_due(clock=clock).sent == 0
    assert alarms() == [26 * 3600, -26 * 3600]
    clock.run(timedelta(hours=12))
    assert sweep_due(clock=clock) == ONE
    clock.run(timedelta(hours=12))
    assert sweep_due(clock=clock) == ONE
    assert len(mailoutbox) == 2


def test_a_clock_set_back_delays_and_never_repeats(mailoutbox: list[EmailMessage]) -> None:
    clock = Clock(FIRST_CALL)
    assert sweep_due(clock=clock) == ONE
    clock.run(timedelta(seconds=30))
    clock.step(timedelta(hours=-2))
    assert sweep_due(clock=clock) == Swept(sent=0, put_off=0, given_up=0, step_seconds=-2 * 3600)
    clock.run(timedelta(hours=4))
    assert sweep_due(clock=clock) == NOTHING
    assert (alarms(), len(mailoutbox)) == ([-2 * 3600], 1)


def test_a_step_holds_back_only_what_it_made_due(mailoutbox: list[EmailMessage]) -> None:
    clock = Clock(FIRST_CALL - timedelta(seconds=40))
    sweep_due(clock=clock)
    clock.run(timedelta(seconds=60))
    clock.step(timedelta(hours=26))
    assert sweep_due(clock=clock).sent == 1
    assert (the(Kind.FIRST_CALL).state, the(Kind.SEAL_CHECK).state) == (State.DONE, State.DUE)


def test_a_step_ends_no_lease_early(mailoutbox: list[EmailMessage]) -> None:
    clock = Clock(FIRST_CALL)
    SweepRun.objects.create(wall=clock.wall, elapsed_seconds=clock.elapsed_seconds, boot_id=clock.boot_id)
    assert claim(the(Kind.FIRST_CALL).pk, now=FIRST_CALL, held_from=None)
    clock.run(timedelta(seconds=30))
    clock.step(timedelta(hours=3))
    assert sweep_due(clock=clock).sent == 0


@pytest.mark.parametrize(
    "disturb",
    [
        lambda clock: clock.step(timedelta(seconds=115)),
        lambda clock: clock.step(timedelta(seconds=-115)),
        lambda clock: clock.run(timedelta(hours=30)),
        lambda clock: (clock.step(timedelta(hours=5)), clock.restart("boot-2")),
        lambda clock: (clock.step(timedelta(hours=5)), clock.restart("")),
    ],
    ids=["a little ahead", "a little back", "a long sleep", "a restart", "nothing to judge by"],
)
def test_no_alarm_without_a_step(disturb: Callable[[Clock], object], mailoutbox: list[EmailMessage]) -> None:
    clock = Clock(OUT)
    sweep_due(clock=clock)
    disturb(clock)
    assert sweep_due(clock=clock).step_seconds == 0
    assert alarms() == []


def test_ordinary_runs_are_forgotten_after_two_days_and_alarms_are_not() -> None:
    clock = Clock(OUT - timedelta(days=30))
    sweep_due(clock=clock)
    clock.step(timedelta(minutes=10))
    sweep_due(clock=clock)
    clock.run(KEPT + SECOND)
    sweep_due(clock=clock)
    assert [run.step_seconds for run in SweepRun.objects.order_by("pk")] == [600, 0]


def test_this_machine_s_clocks_can_be_read() -> None:
    first, second = read_clock(), read_clock()
    assert first.wall.utcoffset() == timedelta()
    assert second.wall >= first.wall
    assert second.elapsed_seconds >= first.elapsed_seconds
    assert first.boot_id == second.boot_id


@pytest.mark.postgres
def test_postgresql_s_own_clock_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        database = cursor.fetchone()[0]
    assert timedelta() <= read_clock().wall - database < timedelta(minutes=1)
