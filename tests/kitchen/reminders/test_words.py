"""What members are told, and above all what they must not be told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kitchen.planning.models import LoadPortion
from kitchen.reminders.actions import schedule_for_load
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.rules import DUE_AFTER
from kitchen.reminders.words import FOUND_LATER, LOOK, PRESS, REFRIGERATE, SAME_PROCESS, TAP, words_of
from scheduler.caution import CAUTION
from tests.factories.loads import load_of_one

pytestmark = pytest.mark.django_db

# Jars out at noon in Denver, 62 minutes after the end of the process.
OUT = datetime(2026, 9, 12, 18, tzinfo=UTC)
ENDED = OUT - timedelta(minutes=62)
FIRST_CALL, SEAL_CHECK = OUT + timedelta(hours=12), OUT + timedelta(hours=24)


def a_reminder(kind: Kind, *, ended: datetime | None = ENDED, zone: str = "America/Denver") -> Reminder:
    load = load_of_one(process_ended_at=ended, time_zone=zone)
    schedule_for_load(load=load, jars_out_at=OUT)
    return Reminder.objects.get(portion__load=load, kind=kind)


def portion_of(reminder: Reminder) -> LoadPortion:
    """The jars that a reminder to check seals is about."""
    assert reminder.portion is not None
    return reminder.portion


def test_both_parts_of_the_message_say_all_that_matters() -> None:
    reminder = a_reminder(Kind.FIRST_CALL)
    message = message_of(reminder, now=FIRST_CALL)
    words = words_of(reminder, now=FIRST_CALL)
    load = portion_of(reminder).load
    assert message.subject == f"First call: 7 quart jars of Green beans, lot {load.lot_code}"
    assert message.to == reminder.recipient.email
    assert message.message_id == f"<reminder-{reminder.pk}@localhost>"
    said = (
        "7 quart jars of Green beans",
        f"Lot {load.lot_code}, from {load.canner}",
        "Out of the canner Sat 12 Sep 2026, 12:00 (MDT)",
        *(PRESS, TAP, LOOK, SAME_PROCESS, FOUND_LATER),
        *words.unsealed,
        words.link,
        reminder.kitchen.name,
    )
    assert [part for part in said if part not in message.text] == []
    assert [part for part in said if part not in message.html] == []
    assert CAUTION in message.text
    assert CAUTION.replace("'", "&#x27;") in message.html


def test_the_first_call_says_from_when_and_how_much_time_is_left() -> None:
    words = words_of(a_reminder(Kind.FIRST_CALL), now=FIRST_CALL + timedelta(seconds=1))
    assert words.timing == (
        "Your jars were to stand undisturbed for 12 hours, until Sun 13 Sep 2026, 00:00 (MDT). "
        "From then on test their seals. "
        "Do it soon: a jar that did not seal can be processed again only if it is found in time."
    )
    start = (
        "A new process must start before Sun 13 Sep 2026, 10:58 (MDT), 24 hours after the end of the first "
        "one. When this was written 10 h 57 min were left. "
        "Heating up takes time, so tell the kitchen at once."
    )
    assert words.unsealed == (
        start,
        SAME_PROCESS,
        f"If it cannot start in time, do not reprocess: {REFRIGERATE}.",
        FOUND_LATER,
    )


def test_the_seal_check_comes_too_late_for_a_reprocess_and_says_so() -> None:
    words = words_of(a_reminder(Kind.SEAL_CHECK), now=SEAL_CHECK)
    assert words.title.startswith("Seal check: ")
    assert words.timing == (
        "24 hours out of the canner: Sun 13 Sep 2026, 12:00 (MDT). "
        "Test every seal now and write down what you find."
    )
    over = "The 24 hours after the first process were over Sun 13 Sep 2026, 10:58 (MDT): do not reprocess."
    assert words.unsealed == (
        f"{over} For each unsealed jar: {REFRIGERATE}.",
        FOUND_LATER,
    )


@pytest.mark.parametrize("kind", list(DUE_AFTER))
@pytest.mark.parametrize("late", [timedelta(hours=23), timedelta(hours=24), timedelta(days=9)])
def test_no_message_read_after_the_deadline_offers_a_reprocess(kind: Kind, late: timedelta) -> None:
    words = words_of(a_reminder(kind), now=OUT + late)
    told = "\n".join((words.timing, *words.unsealed))
    assert "do not reprocess" in told
    assert SAME_PROCESS not in told
    assert "processed again" not in told


@pytest.mark.parametrize("kind", list(DUE_AFTER))
def test_an_end_that_was_not_recorded_offers_no_reprocess(kind: Kind) -> None:
    unknown = "The end of the process is not on the record, so do not reprocess."
    words = words_of(a_reminder(kind, ended=None), now=FIRST_CALL)
    assert words.unsealed == (
        f"{unknown} For each unsealed jar: {REFRIGERATE}.",
        FOUND_LATER,
    )
    assert "processed again" not in words.timing


def test_the_last_minutes_are_told_in_minutes_and_rounded_down() -> None:
    words = words_of(a_reminder(Kind.FIRST_CALL), now=ENDED + timedelta(hours=23, minutes=1, seconds=1))
    assert "When this was written 58 min were left." in words.unsealed[0]


def test_local_times_follow_a_change_of_clocks_in_the_night() -> None:
    out = datetime(2026, 10, 31, 18, tzinfo=UTC)
    load = load_of_one(process_ended_at=out - timedelta(minutes=62))
    schedule_for_load(load=load, jars_out_at=out)
    words = words_of(Reminder.objects.get(kind=Kind.SEAL_CHECK), now=out + timedelta(hours=24))
    assert words.jars[-1] == "Out of the canner Sat 31 Oct 2026, 12:00 (MDT)"
    assert "24 hours out of the canner: Sun 1 Nov 2026, 11:00 (MST)." in words.timing


def test_jars_on_hold_are_told_to_be() -> None:
    reminder = a_reminder(Kind.FIRST_CALL)
    load = portion_of(reminder).load
    assert words_of(reminder, now=FIRST_CALL).hold == ""
    load.deviation, load.on_hold = "Processed 20 of 25 minutes (rule S6).", True
    message = message_of(reminder, now=FIRST_CALL)
    told = (
        "Processed 20 of 25 minutes (rule S6). "
        "Do not use or open any of these jars before the kitchen's lead has decided."
    )
    assert f"ON HOLD. {told}" in message.text
    assert told.replace("'", "&#x27;") in message.html


def test_one_jar_is_one_jar() -> None:
    reminder = a_reminder(Kind.FIRST_CALL)
    portion_of(reminder).jars = 1
    assert words_of(reminder, now=FIRST_CALL).jars[0] == "1 quart jar of Green beans"


def test_names_cannot_break_out_of_the_message() -> None:
    reminder = a_reminder(Kind.FIRST_CALL)
    reminder.recipient.display_name = "<script>alert(1)</script>"
    portion_of(reminder).batch.food_name = "Beans\r\nBcc: someone@kitchen.example"
    message = message_of(reminder, now=FIRST_CALL)
    assert "<script>" not in message.html
    assert "\n" not in message.subject
    assert "<script>alert(1)</script>" in message.text, "plain text is not escaped"
