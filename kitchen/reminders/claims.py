"""Taking a reminder for sending and giving it back, each step one compare-and-swap.

A step changes the row only while it still is what the sweep believes it to be, so any number of sweeps may
run at once, on either database and without locks that outlive a statement. A sweep that dies leaves a lease
behind that runs out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import F

from kitchen.audit.actions import record
from kitchen.reminders.models import Notice, Reminder, State
from kitchen.reminders.queries import claimable
from kitchen.reminders.rules import LEASE, MOST_ATTEMPTS, pause_after

_LONGEST_FAILURE = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """The right to send one reminder, for as long as the row still bears the token."""

    reminder: Reminder
    token: UUID


def claim(reminder_id: UUID, *, now: datetime, held_from: datetime | None) -> Claim | None:
    """Take this reminder if it is due, or if the sweep that had it is gone. None when another was faster."""
    token = uuid4()
    mine = claimable(now, held_from=held_from).filter(pk=reminder_id)
    won = mine.update(
        state=State.SENDING, claim_token=token, lease_until=now + LEASE, attempts=F("attempts") + 1
    )
    if not won:
        return None
    reminder = Reminder.objects.select_related(
        "kitchen", "recipient", "portion__batch", "portion__load__canner", "portion__load__harvest_day"
    ).get(pk=reminder_id)
    return Claim(reminder=reminder, token=token)


@transaction.atomic
def complete(claim: Claim, *, now: datetime) -> bool:
    """Note that the message went out, and write the member's notice. False when the lease was lost."""
    reminder = claim.reminder
    if not _swap(claim, state=State.DONE, done_at=now, last_failure=""):
        return False
    _notice(reminder, now)
    record(
        actor=None,
        kitchen=reminder.kitchen,
        action="send_reminder",
        subject=reminder,
        before={"state": State.SENDING},
        after={
            "state": State.DONE,
            "kind": reminder.kind,
            "attempts": reminder.attempts,
            "late_seconds": int(max(now - reminder.due_at, timedelta()).total_seconds()),
        },
    )
    return True


@transaction.atomic
def put_off(claim: Claim, *, now: datetime, failure: str) -> State | None:
    """Note that the message did not go out: due again after a pause, or given up after the last attempt.

    The member's notice is written all the same. None when the lease was lost.
    """
    reminder = claim.reminder
    last = reminder.attempts >= MOST_ATTEMPTS
    state = State.FAILED if last else State.DUE
    again_at = max(now + pause_after(reminder.attempts), reminder.due_at)
    if not _swap(claim, state=state, next_attempt_at=again_at, last_failure=failure[:_LONGEST_FAILURE]):
        return None
    _notice(reminder, now)
    if last:
        record(
            actor=None,
            kitchen=reminder.kitchen,
            action="give_up_reminder",
            subject=reminder,
            before={"state": State.SENDING},
            after={"state": State.FAILED, "kind": reminder.kind, "failure": failure[:_LONGEST_FAILURE]},
        )
    return state


def cancel(reminder_ids: Iterable[UUID], *, now: datetime) -> int:
    """Cancel those of the reminders that no sweep is sending at this moment; how many that were."""
    open_rows = Reminder.objects.filter(pk__in=list(reminder_ids))
    waiting = open_rows.filter(state__in=(State.DUE, State.FAILED)).update(state=State.CANCELLED)
    left_behind = open_rows.filter(state=State.SENDING, lease_until__lte=now)
    return waiting + left_behind.update(state=State.CANCELLED, claim_token=None, lease_until=None)


def _swap(claim: Claim, **change: object) -> bool:
    mine = Reminder.objects.filter(pk=claim.reminder.pk, state=State.SENDING, claim_token=claim.token)
    return bool(mine.update(claim_token=None, lease_until=None, **change))


def _notice(reminder: Reminder, now: datetime) -> None:
    Notice.objects.get_or_create(
        reminder=reminder, defaults={"recipient": reminder.recipient, "created_at": now}
    )
