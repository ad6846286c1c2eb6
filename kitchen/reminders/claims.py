"""Taking a reminder for sending and giving it back, each step one compare-and-swap.

A step changes the row only while it still is what the sweep believes it to be, so any number of sweeps may
run at once, on either database and without locks that outlive a statement. A sweep that dies leaves a lease
behind that runs out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import F, QuerySet

from kitchen.audit.actions import Line, record, record_all
from kitchen.reminders.models import Kind, Notice, Reminder, State
from kitchen.reminders.queries import claimable, due, to_be_sent
from kitchen.reminders.rules import LEASE, MOST_ATTEMPTS, pause_after

_LONGEST_FAILURE = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """The right to send one reminder, for as long as the row still bears the token."""

    reminder: Reminder
    token: UUID


def claim(reminder_id: UUID, *, now: datetime, held_from: datetime | None) -> Claim | None:
    """Take this reminder if it is due, or if the sweep that had it is gone. None when another was faster."""
    mine = claimable(now, held_from=held_from).filter(pk=reminder_id)
    taken = _take([reminder_id], mine, now)
    return taken[0] if taken else None


@transaction.atomic
def claim_due(*, now: datetime, held_from: datetime | None, limit: int) -> list[Claim]:
    """Take the next that are due, at most so many, all for as long as one claim holds.

    On PostgreSQL what another sweep is taking at this moment is passed over instead of waited for. The claim itself is
    the same compare-and-swap as for one.
    """
    rows = due(now, held_from=held_from)
    locked = rows.select_for_update(skip_locked=True, no_key=True).order_by("next_attempt_at")
    ids = list(locked.values_list("pk", flat=True)[:limit])
    return _take(ids, rows.filter(pk__in=ids), now) if ids else []


def give_back(claims: Sequence[Claim]) -> None:
    """Leave what was claimed and not begun to another sweep, as if it had not been claimed."""
    for token in {one.token for one in claims}:
        mine = Reminder.objects.filter(
            pk__in=[one.reminder.pk for one in claims], state=State.SENDING, claim_token=token
        )
        mine.update(state=State.DUE, claim_token=None, lease_until=None, attempts=F("attempts") - 1)


@transaction.atomic
def complete(claims: Sequence[Claim], *, now: datetime, mailed: bool = True) -> int:
    """Note that these messages went out, and write their people's notices. How many that were.

    Not ``mailed`` is what its reader wants no e-mail about, or gets in a digest.

    Left out is whatever lost its lease meanwhile: another sweep sends it, or has.
    """
    done = [one.reminder for token in {one.token for one in claims} for one in _still_held(claims, token)]
    Reminder.objects.filter(pk__in=[one.pk for one in done]).update(
        state=State.DONE, done_at=now, last_failure="", claim_token=None, lease_until=None
    )
    _notice(done, now)
    record_all(
        Line(
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
                **({} if mailed else {"mailed": False}),
            },
        )
        for reminder in done
    )
    return len(done)


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
    _notice([reminder], now)
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


@transaction.atomic
def wait(claim: Claim, *, now: datetime, until: datetime) -> bool:
    """Leave it until its reader's quiet hours are over; their page shows it now. False when the lease was lost."""
    again_at = max(until, claim.reminder.due_at)
    if not _swap(claim, state=State.DUE, next_attempt_at=again_at, attempts=F("attempts") - 1):
        return False
    _notice([claim.reminder], now)
    return True


@transaction.atomic
def gather(claim: Claim, *, now: datetime, at: datetime, about: str) -> bool:
    """Put it into its reader's digest that goes out at this time, which is written down with the first of them.

    False when that digest is on its way already, or the lease was lost: then the message is still this sweep's.
    """
    one = claim.reminder
    digest, _ = Reminder.objects.select_for_update(no_key=True, of=("self",)).get_or_create(
        recipient_id=one.recipient_id,
        kind=Kind.DIGEST,
        channel=one.channel,
        about=about,
        defaults={"kitchen_id": one.kitchen_id, "due_at": at, "next_attempt_at": at},
    )
    if digest.state != State.DUE or not complete([claim], now=now, mailed=False):
        return False
    Reminder.objects.filter(pk=one.pk).update(went_with=digest)
    return True


def cancel(reminder_ids: Iterable[UUID], *, now: datetime) -> int:
    """Cancel those of the reminders that no sweep is sending at this moment; how many that were."""
    open_rows = Reminder.objects.filter(pk__in=list(reminder_ids))
    waiting = open_rows.filter(state__in=(State.DUE, State.FAILED)).update(state=State.CANCELLED)
    left_behind = open_rows.filter(state=State.SENDING, lease_until__lte=now)
    return waiting + left_behind.update(state=State.CANCELLED, claim_token=None, lease_until=None)


def _swap(claim: Claim, **change: object) -> bool:
    mine = Reminder.objects.filter(pk=claim.reminder.pk, state=State.SENDING, claim_token=claim.token)
    return bool(mine.update(claim_token=None, lease_until=None, **change))


def _take(ids: Sequence[UUID], rows: QuerySet[Reminder], now: datetime) -> list[Claim]:
    """Claim the rows, which are those of these ids that may be claimed."""
    token = uuid4()
    won = rows.update(
        state=State.SENDING, claim_token=token, lease_until=now + LEASE, attempts=F("attempts") + 1
    )
    if not won:
        return []
    return [Claim(reminder=reminder, token=token) for reminder in to_be_sent(ids, token)]


def _still_held(claims: Sequence[Claim], token: UUID) -> list[Claim]:
    """Those of the claims of this token that nobody took over, their rows locked."""
    wanted = {one.reminder.pk: one for one in claims if one.token == token}
    rows = Reminder.objects.filter(pk__in=list(wanted), state=State.SENDING, claim_token=token)
    held = rows.select_for_update(no_key=True).order_by("pk").values_list("pk", flat=True)
    return [wanted[pk] for pk in held]


def _notice(reminders: Iterable[Reminder], now: datetime) -> None:
    """One for each, whoever wrote it first. What a digest holds has its own."""
    Notice.objects.bulk_create(
        [
            Notice(reminder=one, recipient_id=one.recipient_id, created_at=now)
            for one in reminders
            if one.kind != Kind.DIGEST
        ],
        ignore_conflicts=True,
    )
