"""The sweep: tell every program what it is to be told.

It is a sweep of its own, so that a stranger's slow program keeps no person's reminder waiting. It takes its messages
from the reminders that people were told of; nothing needs to be written when jars come out, and nothing is lost when
this sweep does not run for a while. Like those of people, messages may come twice and never get lost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from time import monotonic
from uuid import UUID, uuid4

import structlog
from django.db import transaction
from django.db.models import F

from kitchen.audit.actions import record
from kitchen.errors import AlreadyDecided, BadAddress, NoAnswer
from kitchen.hooks.actions import end_hook
from kitchen.hooks.bridge import body_of, headers_of
from kitchen.hooks.models import Hook, Telling
from kitchen.hooks.queries import claimable, untold
from kitchen.hooks.rules import ANSWER_SECONDS, GONE, LEASE, LONGEST_SWEEP_SECONDS, MOST_ANSWER_BYTES
from kitchen.http.outward import ask, host_of
from kitchen.reminders.clock import read_clock, stopped_at
from kitchen.reminders.models import State
from kitchen.reminders.rules import MOST_ATTEMPTS, MOST_CLAIMS, pause_after

_LONGEST_FAILURE = 200
_MOST_AT_ONCE = 500

log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Why a program does not have its message; ``gone`` when it wants none any more."""

    reason: str
    gone: bool = False


Send = Callable[[Telling, datetime], Refused | None]
"""Hand one message over; None when the other program has it."""


def post(telling: Telling, at: datetime) -> Refused | None:
    """Send it to its address. Any answer that is no success counts as not having it; redirects are not followed."""
    body, address = body_of(telling), telling.hook.address
    try:
        answer = ask(
            "POST",
            address,
            body=body,
            headers=headers_of(telling, body, at),
            seconds=ANSWER_SECONDS,
            most_bytes=MOST_ANSWER_BYTES,
        )
    except (BadAddress, NoAnswer) as error:
        return Refused(reason=error.message)
    if 200 <= answer.status < 300:
        return None
    return Refused(reason=f"{host_of(address)} answered with {answer.status}.", gone=answer.status == GONE)


def tell_programs(
    *, now: datetime | None = None, send: Send = post, seconds: float = LONGEST_SWEEP_SECONDS
) -> Counter[State]:
    """Tell what is due, as far as ``seconds`` reach; how many ended in each state.

    Safe to run twice, late, or many at once. A program that failed once is left alone for the rest of the sweep.
    """
    read = read_clock if now is None else stopped_at(now)
    began, counts, failing = monotonic(), Counter[State](), set[int]()
    for hook in Hook.objects.filter(ended_at__isnull=True):
        _write_down(hook, read().wall)
    due = (
        claimable(read().wall)
        .filter(hook__ended_at__isnull=True)
        .order_by("next_attempt_at", "pk")
        .values_list("pk", "hook_id")
    )
    for key, hook_id in list(due[:_MOST_AT_ONCE]):
        if monotonic() - began > seconds:
            break
        claimed = None if hook_id in failing else _claim(key, read().wall)
        if claimed is None:
            continue
        refused = _sent(claimed, read().wall, send)
        if refused is not None:
            failing.add(hook_id)
        counts[_note(claimed, refused, read().wall)] += 1
    return counts


def _write_down(hook: Hook, now: datetime) -> None:
    new = [
        Telling(hook=hook, reminder=reminder, created_at=now, next_attempt_at=now)
        for reminder in untold(hook, now)[:_MOST_AT_ONCE]
    ]
    # Another sweep may write the same at this moment.
    Telling.objects.bulk_create(new, ignore_conflicts=True)


def _claim(key: UUID, now: datetime) -> Telling | None:
    """Take a message by compare-and-swap; None when another sweep was faster."""
    token = uuid4()
    if (
        not claimable(now)
        .filter(pk=key)
        .update(state=State.SENDING, claim_token=token, lease_until=now + LEASE, attempts=F("attempts") + 1)
    ):
        return None
    mine = Telling.objects.filter(pk=key, claim_token=token)
    return mine.select_related(
        "hook__kitchen", "reminder__portion__batch", "reminder__portion__load__canner"
    ).first()


def _sent(telling: Telling, now: datetime, send: Send) -> Refused | None:
    if telling.attempts > MOST_CLAIMS:
        return Refused(reason="Every sweep that tried to send this ended before it was done.")
    return send(telling, now)


@transaction.atomic
def _note(telling: Telling, refused: Refused | None, now: datetime) -> State:
    """Write down how it went. What another sweep took over meanwhile is left to that one."""
    last = telling.attempts >= MOST_ATTEMPTS
    state = State.DONE if refused is None else State.FAILED if last else State.DUE
    mine = Telling.objects.filter(pk=telling.pk, state=State.SENDING, claim_token=telling.claim_token)
    changed = mine.update(
        state=state,
        claim_token=None,
        lease_until=None,
        done_at=now if refused is None else None,
        next_attempt_at=now if refused is None else now + pause_after(telling.attempts),
        last_failure="" if refused is None else refused.reason[:_LONGEST_FAILURE],
    )
    if not changed:
        return State.SENDING
    if refused is not None:
        log.warning("program not told", telling=str(telling.pk), reason=refused.reason)
    if state is not State.DUE:
        record(
            actor=None,
            kitchen=telling.hook.kitchen,
            action="tell_hook" if refused is None else "give_up_telling_hook",
            subject=telling,
            after={"state": state, "attempts": telling.attempts},
        )
    if refused is not None and refused.gone:
        _end(telling.hook, now)
    return state


def _end(hook: Hook, now: datetime) -> None:
    try:
        end_hook(hook=hook, actor=None, now=now)
    except AlreadyDecided:
        log.info("hook had ended already", hook=str(hook.uuid))
