"""Many reminders due at once: claimed several at a time, and nothing is lost or taken along when a sweep dies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from time import monotonic

import pytest
from django.core.mail import EmailMessage
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kitchen.audit.models import AuditEvent
from kitchen.bench.sites import make_site
from kitchen.bench.waiting import write_waiting
from kitchen.reminders import sweeping
from kitchen.reminders.claims import claim_due, complete, give_back
from kitchen.reminders.clock import Reading
from kitchen.reminders.delivery import Post
from kitchen.reminders.message import Message
from kitchen.reminders.models import Notice, Reminder, State
from kitchen.reminders.rules import LEASE, MOST_CLAIMS
from kitchen.reminders.sweeping import CLAIMED_AT_ONCE, MOST_OF_A_LEASE, SWEEP_TASK, sweep_due

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 12, 18, 10, tzinfo=UTC)
MANY = 2 * CLAIMED_AT_ONCE + 3


class Dies(BaseException):
    """What ends a sweep that nothing can be done about."""


@pytest.fixture
def hints(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    sent: list[str] = []

    def send_hint(task: str) -> bool:
        sent.append(task)
        return True

    monkeypatch.setattr(sweeping, "send_hint", send_hint)
    return sent


@pytest.fixture
def many(hints: list[str]) -> list[Reminder]:
    """The longest overdue first."""
    late = [NOW - timedelta(seconds=one) for one in range(MANY, 0, -1)]
    return write_waiting(make_site(0, members=2, today=NOW.date()), late)


def ids(reminders: Sequence[Reminder]) -> list[str]:
    return [f"<reminder-{one.pk}@localhost>" for one in reminders]


def sent(mailoutbox: list[EmailMessage]) -> list[str]:
    return [mail.extra_headers["Message-ID"] for mail in mailoutbox]


def test_all_are_sent_once_the_longest_overdue_first_and_help_is_asked_for_once(
    many: list[Reminder], mailoutbox: list[EmailMessage], hints: list[str]
) -> None:
    assert sweep_due(now=NOW).sent == MANY
    assert sent(mailoutbox) == ids(many)
    assert Counter(Notice.objects.values_list("reminder_id", flat=True)) == Counter(one.pk for one in many)
    audited = AuditEvent.objects.filter(action="send_reminder")
    assert sorted(audited.values_list("object_id", flat=True)) == sorted(str(one.pk) for one in many)
    assert {line.after["late_seconds"] for line in audited} == set(range(1, MANY + 1))
    assert hints == [SWEEP_TASK]


def test_a_sweep_that_stops_before_the_end_asks_for_the_next(
    many: list[Reminder], hints: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sweeping, "MOST_A_SWEEP", CLAIMED_AT_ONCE)
    assert sweep_due(now=NOW).sent == CLAIMED_AT_ONCE
    assert hints == [SWEEP_TASK] * 2
    assert sweep_due(now=NOW).sent == CLAIMED_AT_ONCE
    assert sweep_due(now=NOW).sent == 3


def test_what_becomes_due_during_a_sweep_is_left_to_the_next(
    many: list[Reminder], mailoutbox: list[EmailMessage]
) -> None:
    """The clock may have been moved meanwhile, which only the beginning of a sweep finds out."""
    Reminder.objects.filter(pk=many[-1].pk).update(
        due_at=NOW + timedelta(hours=1), next_attempt_at=NOW + timedelta(hours=1)
    )
    shown = iter([NOW])

    def clock() -> Reading:
        return Reading(wall=next(shown, NOW + timedelta(hours=26)), elapsed_seconds=0, boot_id="")

    assert sweep_due(clock=clock).sent == MANY - 1
    assert ids(many[-1:])[0] not in sent(mailoutbox)


def test_a_message_that_kills_its_sweep_takes_the_others_along_once(
    many: list[Reminder], mailoutbox: list[EmailMessage], monkeypatch: pytest.MonkeyPatch
) -> None:
    deadly, deliver = ids(many)[5], Post.deliver

    def kills(self: Post, message: Message) -> None:
        if message.message_id == deadly:
            raise Dies
        deliver(self, message)

    monkeypatch.setattr(Post, "deliver", kills)
    now = NOW
    with pytest.raises(Dies):
        sweep_due(now=now)
    for _ in range(MOST_CLAIMS + 1):
        now += LEASE
        try:
            sweep_due(now=now)
        except Dies:
            continue
    assert set(sent(mailoutbox)) == set(ids(many)) - {deadly}
    assert max(Counter(sent(mailoutbox)).values()) == 2, "those that died before they were written down"
    failed = Reminder.objects.get(state=State.FAILED)
    assert ids([failed]) == [deadly]
    assert Reminder.objects.filter(state=State.DONE).count() == MANY - 1
    assert max(Reminder.objects.filter(state=State.DONE).values_list("attempts", flat=True)) == 2


def test_of_a_claim_that_lasts_too_long_the_rest_is_given_back(
    many: list[Reminder], mailoutbox: list[EmailMessage], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slow mail server: the sweep ends after two messages, and nobody has to wait for the lease."""
    seconds = MOST_OF_A_LEASE.total_seconds() * 0.6
    passed = iter(float(number) for number in range(10_000))
    monkeypatch.setattr(sweeping, "monotonic", lambda: seconds * (len(mailoutbox)) + next(passed) / 1e6)
    assert sweep_due(now=NOW).sent == 2
    rest = Reminder.objects.filter(state=State.DUE)
    assert rest.count() == MANY - 2
    assert set(rest.values_list("attempts", flat=True)) == {0}
    monkeypatch.setattr(sweeping, "monotonic", monotonic)
    assert sweep_due(now=NOW).sent == MANY - 2
    assert Counter(sent(mailoutbox)) == Counter(ids(many))


def test_of_a_claim_only_what_is_still_held_is_noted(many: list[Reminder]) -> None:
    claims = claim_due(now=NOW, held_from=None, limit=3)
    lost = claims[1].reminder
    Reminder.objects.filter(pk=lost.pk).update(lease_until=NOW - timedelta(seconds=1))
    assert claim_due(now=NOW, held_from=None, limit=100)[0].reminder.pk not in {
        one.reminder.pk for one in claims
    }
    Reminder.objects.filter(pk=lost.pk).update(state=State.DUE, claim_token=None, lease_until=None)
    assert complete(claims, now=NOW) == 2
    give_back(claims)
    assert list(Reminder.objects.filter(state=State.DUE).values_list("pk", flat=True)) == [lost.pk]
    assert not Notice.objects.filter(reminder=lost).exists()


def test_a_claim_costs_no_more_questions_of_the_database_for_many(
    many: list[Reminder],
) -> None:
    def asked_for(rows: Sequence[Reminder]) -> int:
        Reminder.objects.update(state=State.CANCELLED, done_at=None)
        Reminder.objects.filter(pk__in=[one.pk for one in rows]).update(state=State.DUE)
        with CaptureQueriesContext(connection) as asked:
            assert sweep_due(now=NOW).sent == len(rows)
        return len(asked)

    assert asked_for(many[:2]) == asked_for(many[2 : CLAIMED_AT_ONCE - 1])
