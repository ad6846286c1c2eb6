"""When a reminder is due, what may follow what, and what is left to do with an unsealed jar (rule S11)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from enum import StrEnum

from django.db import transaction

from kitchen.errors import BadTime
from kitchen.reminders.models import Kind, State

# Jars stand undisturbed for 12 hours at least and are tested by 24. USDA AIB 539, Cooling Jars and Testing
# Jar Seals.
DUE_AFTER: dict[Kind, timedelta] = {
    Kind.FIRST_CALL: timedelta(hours=12),
    Kind.SEAL_CHECK: timedelta(hours=24),
}
# A reprocess starts within 24 hours of the end of the first process. USDA AIB 539, Reprocessing Unsealed
# Jars.
REPROCESS_WITHIN = timedelta(hours=24)

DEADLINE_NEARS = timedelta(hours=3)
"""So long before a reprocess must start its member is told: washing up, filling and heating take their time. Common
practice, no source.
"""

# The figures below are the program's own, not the trade's.
LEASE = timedelta(minutes=5)
"""How long a sweep has for one message. A mail server may take 20 seconds for each of its answers."""
PAUSES = tuple(timedelta(minutes=minutes) for minutes in (1, 2, 4, 8, 16, 32, 60))
"""How long to wait after the first, second, ... attempt that failed."""
MOST_ATTEMPTS = len(PAUSES) + 1
MOST_CLAIMS = 2 * MOST_ATTEMPTS
"""So often a message may have been claimed, by sweeps that died before they could say how it went: then it is not sent
any more, for it may be what they died of. More than attempts, for a sweep may also die of something else.
"""
MOST_CLOCK_STEP = timedelta(minutes=2)
"""How far the wall clock may run away from elapsed time between two sweeps; more is an alarm."""
HOLD = timedelta(minutes=1)
"""How long what became due only by a step of the clock waits for a re-check: two sweeps."""

# Every state appears as a key; a state that nothing follows is final. A cancelled reminder is due again when
# its jars are recorded as out once more, one given up when a lead tries again.
VALID_NEXT: dict[State, frozenset[State]] = {
    State.DUE: frozenset({State.SENDING, State.CANCELLED}),
    State.SENDING: frozenset({State.DONE, State.DUE, State.FAILED, State.SENDING, State.CANCELLED}),
    State.DONE: frozenset(),
    State.CANCELLED: frozenset({State.DUE}),
    State.FAILED: frozenset({State.DUE, State.CANCELLED}),
}


class Remedy(StrEnum):
    """What may still be done with a jar that did not seal."""

    REPROCESS = "reprocess"
    TOO_LATE = "too_late"
    UNKNOWN = "unknown"


def due_at(kind: Kind, jars_out_at: datetime) -> datetime:
    """12 or 24 hours of elapsed time after the jars came out, whatever the clocks on the wall did."""
    # In UTC, because adding to a local time moves the hands of the clock and not the time.
    return jars_out_at.astimezone(UTC) + DUE_AFTER[kind]


def reprocess_by(process_ended_at: datetime | None) -> datetime | None:
    """Until when a reprocess may start; None when the end of the first process was never recorded."""
    return None if process_ended_at is None else process_ended_at.astimezone(UTC) + REPROCESS_WITHIN


def deadline_reminder_at(deadline: datetime, earliest: datetime) -> datetime:
    """When somebody is told that a reprocess must start soon: at once where there is less time than that."""
    return max(deadline.astimezone(UTC) - DEADLINE_NEARS, earliest.astimezone(UTC))


def remedy_at(now: datetime, reprocess_by: datetime | None) -> Remedy:
    """Whether a reprocess that starts now would start in time. Unknown counts as neither."""
    if reprocess_by is None:
        return Remedy.UNKNOWN
    return Remedy.REPROCESS if now < reprocess_by else Remedy.TOO_LATE


def pause_after(attempts: int) -> timedelta:
    """How long to wait after so many attempts."""
    return PAUSES[min(attempts, len(PAUSES)) - 1]


def check_jars_out_time(at: datetime) -> None:
    """Refuse a time without a zone: from it no elapsed time can be counted."""
    if at.utcoffset() is None:
        raise BadTime("The time the jars came out has no time zone.", remedy="Give an aware time.")


def check_within_transaction() -> None:
    """Refuse to write reminders apart from the record they follow: either both stand or neither does."""
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError(
            "Reminders belong into the transaction that records when the jars came out."
        )
