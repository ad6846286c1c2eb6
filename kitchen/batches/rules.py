"""What may be declared and booked."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Protocol

from kitchen.batches.models import MOST_JARS_IN_BATCH, Batch, BatchState, Slot, SlotState
from kitchen.batches.queries import opening_between
from kitchen.errors import AlreadyDecided, BadIntake, BadTime
from kitchen.members.models import Kitchen

# No slot is longer than a day of the kitchen; a guard against slips of typing.
MOST_SLOT = timedelta(hours=12)
# Every state appears as a key; a state that nothing follows is final.
VALID_BATCH_NEXT: dict[BatchState, frozenset[BatchState]] = {
    BatchState.DECLARED: frozenset({BatchState.ARRIVED, BatchState.PLANNED, BatchState.CANCELLED}),
    BatchState.ARRIVED: frozenset({BatchState.PLANNED, BatchState.CANCELLED}),
    BatchState.PLANNED: frozenset({BatchState.PLANNED, BatchState.DONE, BatchState.CANCELLED}),
    BatchState.DONE: frozenset(),
    BatchState.CANCELLED: frozenset(),
}


class Day(Protocol):
    """A harvest day, as far as what is brought is concerned."""

    date: date
    state: str
    opens_at: datetime
    closes_at: datetime


def check_within_day(kitchen: Kitchen, day: Day, arrives_at: datetime) -> None:
    """Refuse a harvest day that is over, or an arrival outside of its hours."""
    if day.state == "closed":
        raise BadIntake(f"The harvest day of {day.date} is over.", remedy="Choose a day to come.")
    if not day.opens_at <= arrives_at < day.closes_at:
        raise BadIntake(
            f"The kitchen is open from {day.opens_at.astimezone(kitchen.zone):%H:%M} "
            f"to {day.closes_at.astimezone(kitchen.zone):%H:%M} on that day.",
            remedy="Arrive within these hours.",
        )


def check_stay(arrives_at: datetime, picks_up_at: datetime) -> None:
    """Refuse a pick-up that is not after the arrival."""
    if arrives_at.tzinfo is None or picks_up_at.tzinfo is None:
        raise BadTime("Arrival and pick-up need a time zone.", remedy="Give aware times.")
    if picks_up_at <= arrives_at:
        raise BadIntake(
            "The jars would be picked up before the food arrives.",
            remedy="Set the pick-up after the arrival.",
        )


def check_jars(jars: int) -> None:
    """Refuse no jars, or more than anybody brings."""
    if not 1 <= jars <= MOST_JARS_IN_BATCH:
        raise BadIntake(
            f"That would make {jars:,} jars.",
            remedy=f"Bring food for 1 to {MOST_JARS_IN_BATCH:,} jars, or declare it as several batches.",
        )


def check_batch_may_become(batch: Batch, state: BatchState) -> None:
    """Refuse a change of state that is not in the table."""
    if state not in VALID_BATCH_NEXT[BatchState(batch.state)]:
        raise AlreadyDecided(
            f"This batch is {batch.get_state_display().lower()}.", remedy="Declare another batch instead."
        )


def may_become(batch: Batch, state: BatchState) -> bool:
    """True when ``check_batch_may_become`` refuses nothing."""
    return state in VALID_BATCH_NEXT[BatchState(batch.state)]


def check_not_begun(batch: Batch) -> None:
    """Refuse a batch of which jars are in a canner, or were."""
    if batch.portions.exclude(load__state__in=("planned", "cancelled")).exists():
        raise BadIntake("Some of these jars are in a canner already.", remedy="Speak to the kitchen's lead.")


def check_not_booked(batch: Batch) -> None:
    """Refuse a batch that canner time is booked for: its loads were planned for just these jars."""
    if batch.slots.filter(state=SlotState.BOOKED).exists():
        raise BadIntake(
            "Canner time is booked for this batch.", remedy="Change the booking, or give the time back."
        )


def check_may_be_changed(batch: Batch) -> None:
    """Refuse a batch that is done or taken back, or of which jars are in a canner."""
    if batch.state in (BatchState.DONE, BatchState.CANCELLED):
        raise AlreadyDecided(
            f"This batch is {batch.get_state_display().lower()}.", remedy="Declare another batch instead."
        )
    check_not_begun(batch)
    check_not_booked(batch)


def check_slot_time(kitchen: Kitchen, starts_at: datetime, ends_at: datetime, *, now: datetime) -> None:
    """Refuse a slot in the past, longer than a day, or outside the usual opening hours."""
    if starts_at < now:
        raise BadTime("This time has begun already.", remedy="Choose a time to come.")
    if ends_at - starts_at > MOST_SLOT:
        raise BadTime(
            "The slot is longer than a day at the kitchen.",
            remedy=f"Book at most {MOST_SLOT.seconds // 3600} hours.",
        )
    if opening_between(kitchen, starts_at, ends_at) is None:
        raise BadTime("The kitchen is not open for all of this time.", remedy="Look at the opening hours.")


def check_may_be_cancelled(slot: Slot, *, now: datetime) -> None:
    """Refuse to cancel a slot twice, or when it has begun."""
    if slot.state == SlotState.CANCELLED:
        raise AlreadyDecided("This slot was cancelled before.", remedy="Book again if you need the time.")
    if slot.canner_time.starts_at <= now:
        raise BadTime("This slot has begun.", remedy="Speak to the kitchen's lead.")


def can_be_cancelled(slot: Slot, *, now: datetime) -> bool:
    """True when ``check_may_be_cancelled`` refuses nothing."""
    try:
        check_may_be_cancelled(slot, now=now)
    except (AlreadyDecided, BadTime):
        return False
    return True
