"""Reminders are written, moved and cancelled together with the record they follow, or not at all."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitchen.audit.queries import about
from kitchen.errors import BadTime
from kitchen.reminders.actions import cancel_for_portion, move_due, schedule_for_load
from kitchen.reminders.models import Channel, Kind, Reminder, State
from kitchen.reminders.sweeping import sweep_due
from tests.factories.loads import add_portion, load_of_one, make_batch, make_load, make_member

pytestmark = pytest.mark.django_db

ENDED = datetime(2026, 9, 12, 17, 8, tzinfo=UTC)
OUT = datetime(2026, 9, 12, 18, 10, tzinfo=UTC)
TWELVE, DAY = timedelta(hours=12), timedelta(hours=24)


@pytest.fixture(autouse=True)
def in_one_transaction() -> None:
    """The tests of this module run inside a transaction, as the caller's must be."""
    assert transaction.get_connection().in_atomic_block


def times() -> list[tuple[str, datetime, str]]:
    rows = Reminder.objects.order_by("due_at", "pk")
    return [(row.kind, row.due_at, row.state) for row in rows]


def test_each_portion_gets_both_calls() -> None:
    load = load_of_one(process_ended_at=ENDED)
    second = make_batch(load.harvest_day, make_member(load.harvest_day.kitchen, "Tom Okafor"))
    add_portion(load, second, jars=2)
    schedule_for_load(load=load, jars_out_at=OUT)
    told = {
        (
            row.recipient_id,
            row.kind,
            row.channel,
            row.due_at,
            row.next_attempt_at,
            row.reprocess_by,
            row.state,
        )
        for row in Reminder.objects.all()
    }
    assert told == {
        (portion.batch.member_id, kind, Channel.EMAIL, OUT + after, OUT + after, ENDED + DAY, State.DUE)
        for portion in load.portions.all()
        for kind, after in ((Kind.FIRST_CALL, TWELVE), (Kind.SEAL_CHECK, DAY))
    }


def test_a_batch_split_over_two_loads_is_called_for_each() -> None:
    first = load_of_one(process_ended_at=ENDED)
    batch = first.portions.get().batch
    later = make_load(first.harvest_day, process_ended_at=ENDED + timedelta(hours=3))
    add_portion(later, batch)
    schedule_for_load(load=first, jars_out_at=OUT)
    schedule_for_load(load=later, jars_out_at=OUT + timedelta(hours=3))
    assert [due for _, due, _ in times()] == [OUT + timedelta(hours=hours) for hours in (12, 15, 24, 27)]


def test_writing_them_twice_changes_nothing() -> None:
    load = load_of_one(process_ended_at=ENDED)
    first = schedule_for_load(load=load, jars_out_at=OUT)
    assert schedule_for_load(load=load, jars_out_at=OUT + timedelta(hours=1)) == first
    assert [due for _, due, _ in times()] == [OUT + TWELVE, OUT + DAY]


def test_the_database_refuses_a_second_of_the_kind() -> None:
    load = load_of_one(process_ended_at=ENDED)
    reminder = schedule_for_load(load=load, jars_out_at=OUT)[0]
    reminder.pk = uuid.uuid4()
    with pytest.raises(IntegrityError), transaction.atomic():
        reminder.save(force_insert=True)


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        ({"state": State.SENDING}, "reminder_claimed_while_sending"),
        ({"claim_token": uuid.uuid4()}, "reminder_claimed_while_sending"),
        ({"state": State.DONE}, "reminder_done_when"),
        ({"done_at": OUT}, "reminder_done_when"),
        ({"next_attempt_at": OUT}, "reminder_never_early"),
        ({"due_at": OUT}, "reminder_due_after_jars_out"),
        ({"state": "lost"}, "reminder_state"),
        ({"kind": "last_call"}, "reminder_kind"),
        ({"channel": "pigeon"}, "reminder_channel"),
    ],
)
def test_the_database_refuses_a_row_that_cannot_be(change: dict[str, object], constraint: str) -> None:
    load = load_of_one(process_ended_at=ENDED)
    reminder = schedule_for_load(load=load, jars_out_at=OUT)[0]
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        Reminder.objects.filter(pk=reminder.pk).update(**change)


def test_a_correction_moves_what_is_due() -> None:
    load = load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=load, jars_out_at=OUT)
    sweep_due(now=OUT + TWELVE)
    load.process_ended_at = ENDED + timedelta(minutes=20)
    assert move_due(load=load, jars_out_at=OUT + timedelta(minutes=20)) == 1
    assert times() == [
        (Kind.FIRST_CALL, OUT + TWELVE, State.DONE),
        (Kind.SEAL_CHECK, OUT + DAY + timedelta(minutes=20), State.DUE),
    ]
    moved = Reminder.objects.get(kind=Kind.SEAL_CHECK)
    assert moved.reprocess_by == ENDED + timedelta(minutes=20) + DAY
    assert moved.jars_out_at == OUT + timedelta(minutes=20)


def test_a_correction_leaves_what_is_being_sent() -> None:
    load = load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=load, jars_out_at=OUT)
    Reminder.objects.update(state=State.SENDING, claim_token=uuid.uuid4(), lease_until=OUT + DAY)
    assert move_due(load=load, jars_out_at=OUT + timedelta(hours=1)) == 0
    assert [due for _, due, _ in times()] == [OUT + TWELVE, OUT + DAY]


def test_a_correction_reaches_the_facts_of_a_notice_that_was_sent() -> None:
    load = load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=load, jars_out_at=OUT)
    sweep_due(now=OUT + TWELVE)
    load.process_ended_at = ENDED - timedelta(minutes=30)
    move_due(load=load, jars_out_at=OUT - timedelta(minutes=10))
    sent = Reminder.objects.get(kind=Kind.FIRST_CALL)
    assert (sent.state, sent.due_at) == (State.DONE, OUT + TWELVE)
    assert sent.reprocess_by == ENDED - timedelta(minutes=30) + DAY
    assert sent.jars_out_at == OUT - timedelta(minutes=10)


def test_a_correction_to_a_time_after_the_first_call_was_sent_is_taken() -> None:
    load = load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=load, jars_out_at=OUT)
    sweep_due(now=OUT + TWELVE)
    assert move_due(load=load, jars_out_at=OUT + timedelta(hours=13)) == 1
    assert times()[1] == (Kind.SEAL_CHECK, OUT + timedelta(hours=37), State.DUE)


def test_a_correction_touches_no_other_load() -> None:
    load, other = load_of_one(process_ended_at=ENDED), load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=other, jars_out_at=OUT)
    schedule_for_load(load=load, jars_out_at=OUT)
    move_due(load=load, jars_out_at=OUT + timedelta(hours=1))
    assert {row.due_at for row in Reminder.objects.filter(portion__load=other)} == {OUT + TWELVE, OUT + DAY}


def test_cancelling_leaves_what_was_sent_and_what_is_being_sent() -> None:
    load = load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=load, jars_out_at=OUT)
    sweep_due(now=OUT + TWELVE)
    portion = load.portions.get()
    seal_check = Reminder.objects.filter(kind=Kind.SEAL_CHECK)
    seal_check.update(state=State.SENDING, claim_token=uuid.uuid4(), lease_until=OUT + DAY)
    assert cancel_for_portion(portion=portion, now=OUT + DAY - timedelta(minutes=1)) == 0
    assert cancel_for_portion(portion=portion, now=OUT + DAY) == 1, "its sweep is gone"
    assert [state for _, _, state in times()] == [State.DONE, State.CANCELLED]


@pytest.mark.parametrize("state", [State.DUE, State.FAILED])
def test_cancelling_ends_what_waits(state: State) -> None:
    load = load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=load, jars_out_at=OUT)
    Reminder.objects.update(state=state)
    assert cancel_for_portion(portion=load.portions.get(), now=OUT) == 2
    assert sweep_due(now=OUT + DAY).sent == 0


def test_jars_out_once_more_makes_cancelled_reminders_due_again() -> None:
    load = load_of_one(process_ended_at=ENDED)
    schedule_for_load(load=load, jars_out_at=OUT)
    cancel_for_portion(portion=load.portions.get(), now=OUT)
    schedule_for_load(load=load, jars_out_at=OUT + timedelta(hours=1))
    assert times() == [
        (Kind.FIRST_CALL, OUT + timedelta(hours=13), State.DUE),
        (Kind.SEAL_CHECK, OUT + timedelta(hours=25), State.DUE),
    ]


def test_each_change_is_on_the_record() -> None:
    load = load_of_one(process_ended_at=ENDED)
    portion = load.portions.get()
    schedule_for_load(load=load, jars_out_at=OUT)
    move_due(load=load, jars_out_at=OUT + timedelta(minutes=5))
    cancel_for_portion(portion=portion, now=OUT)
    assert [event.action for event in about(load)] == ["move_reminders", "schedule_reminders"]
    assert [(event.action, event.after) for event in about(portion)] == [
        ("cancel_reminders", {"reminders": 2})
    ]


def test_a_time_without_a_zone_is_refused() -> None:
    load = load_of_one(process_ended_at=ENDED)
    with pytest.raises(BadTime):
        schedule_for_load(load=load, jars_out_at=OUT.replace(tzinfo=None))
    assert not Reminder.objects.exists()
