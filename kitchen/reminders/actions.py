"""Writing reminders down, moving and cancelling them, and sending what is due."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial

import structlog
from django.db import transaction

from kitchen.audit.actions import record
from kitchen.errors import AlreadyDecided, NotAllowed, NotDelivered
from kitchen.hints import send_hint
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.models import Load, LoadPortion
from kitchen.reminders.claims import Claim, cancel, claim, complete, put_off
from kitchen.reminders.clock import Reading, read_clock, stopped_at
from kitchen.reminders.delivery import deliver
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Channel, Kind, Notice, Reminder, State
from kitchen.reminders.queries import claimable_ids, first_deadline
from kitchen.reminders.rules import (
    DUE_AFTER,
    MOST_ATTEMPTS,
    check_jars_out_time,
    check_within_transaction,
    due_at,
    reprocess_by,
)
from kitchen.reminders.runs import begin_run, finish_run

SWEEP_TASK = "kitchen.reminders.tasks.sweep_due"
MOST_A_SWEEP = 200
"""A guard against a sweep without an end; the next one goes on where this one stopped."""

log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """What one sweep did: messages sent, put off or given up, and by how much the clock was moved."""

    sent: int
    put_off: int
    given_up: int
    step_seconds: float


def schedule_for_load(*, load: Load, jars_out_at: datetime) -> list[Reminder]:
    """Write down both reminders for each portion of a load whose jars came out, in the caller's transaction.

    The reprocess deadline counts from ``load.process_ended_at``. A portion whose reminders were cancelled
    gets them anew; what was sent already is not sent again. Refused outside a transaction: the reminders
    stand or fall with the record.
    """
    check_within_transaction()
    check_jars_out_time(jars_out_at)
    portions = load.portions.select_related("batch__member").order_by("pk")
    reminders = [_schedule(load, portion, kind, jars_out_at) for portion in portions for kind in DUE_AFTER]
    record(
        actor=None,
        kitchen=load.harvest_day.kitchen,
        action="schedule_reminders",
        subject=load,
        after={"jars_out_at": jars_out_at, "reminders": len(reminders)},
    )
    _hint_on_commit()
    return reminders


def move_due(*, load: Load, jars_out_at: datetime) -> int:
    """Move what is still due to a corrected time, in the caller's transaction; how many reminders were moved.

    To be called as well when only the end of the process was corrected. What was sent, or is being sent at
    this moment, keeps its time, but the facts that a notice shows follow the correction, above all the
    deadline.
    """
    check_within_transaction()
    check_jars_out_time(jars_out_at)
    moved = sum(_move(load, portion, jars_out_at) for portion in load.portions.select_related("batch"))
    record(
        actor=None,
        kitchen=load.harvest_day.kitchen,
        action="move_reminders",
        subject=load,
        after={"jars_out_at": jars_out_at, "reminders": moved},
    )
    _hint_on_commit()
    return moved


def cancel_for_portion(*, portion: LoadPortion, now: datetime | None = None) -> int:
    """Cancel what was not sent: the jars are counted, thrown out, or never came out. How many that were.

    One that is being sent at this moment goes out.
    """
    check_within_transaction()
    ids = Reminder.objects.filter(portion=portion).values_list("pk", flat=True)
    cancelled = cancel(ids, now=now or read_clock().wall)
    if cancelled:
        record(
            actor=None,
            kitchen=portion.load.harvest_day.kitchen,
            action="cancel_reminders",
            subject=portion,
            after={"reminders": cancelled},
        )
    return cancelled


def tell(
    *, kitchen: Kitchen, to: Iterable[User], title: str, lines: Sequence[str], path: str, at: datetime
) -> list[Reminder]:
    """Write down news of the rota for each of these people, in the caller's transaction; it goes out at once after it.

    Everybody gets it once, however often they are named. ``path`` is the page that it leads to, from the slash on.
    """
    check_within_transaction()
    people = {person.pk: person for person in to}
    news = {"title": title, "lines": list(lines), "path": path}
    told = [
        Reminder.objects.create(
            kitchen=kitchen, recipient=person, kind=Kind.ROTA, news=news, due_at=at, next_attempt_at=at
        )
        for person in people.values()
    ]
    if told:
        record(
            actor=None,
            kitchen=kitchen,
            action="tell",
            subject=kitchen,
            after={"title": title, "people": sorted(people)},
        )
        _hint_on_commit()
    return told


@transaction.atomic
def try_again(*, reminder: Reminder, actor: User, now: datetime | None = None) -> None:
    """A lead has a reminder sent that was given up, once the mail server works or the address is right."""
    check_may(actor, reminder.kitchen, Deed.ACT_FOR_OTHERS)
    at = now or read_clock().wall
    failed = Reminder.objects.filter(pk=reminder.pk, state=State.FAILED)
    if not failed.update(state=State.DUE, attempts=0, next_attempt_at=max(at, reminder.due_at)):
        raise AlreadyDecided("This reminder is not one that was given up.", remedy="Look at the list again.")
    record(
        actor=actor,
        kitchen=reminder.kitchen,
        action="try_reminder_again",
        subject=reminder,
        before={"state": State.FAILED},
        after={"state": State.DUE},
    )
    _hint_on_commit()


@transaction.atomic
def see_notice(*, notice: Notice, actor: User, now: datetime | None = None) -> None:
    """Note that a person has looked at their notice. Seeing it again changes nothing."""
    if notice.recipient_id != actor.pk:
        raise NotAllowed("This notice is for another person.", remedy="Sign in as that person.")
    at = now or read_clock().wall
    if Notice.objects.filter(pk=notice.pk, seen_at__isnull=True).update(seen_at=at):
        kitchen = notice.reminder.kitchen
        record(actor=actor, kitchen=kitchen, action="see_notice", subject=notice, after={"seen_at": at})


def sweep_due(*, now: datetime | None = None, clock: Callable[[], Reading] = read_clock) -> Swept:
    """Send every reminder whose time has come. Sweeps may run at once; each reminder goes to one of them.

    ``now`` sets the time, for a caller who knows better than the clock; then no step of the clock is looked
    for. Messages are sent outside any transaction, and one that fails does not keep the others.
    """
    read = clock if now is None else stopped_at(now)
    run = begin_run(read())
    counts = dict.fromkeys((State.DONE, State.DUE, State.FAILED), 0)
    for reminder_id in claimable_ids(run.wall, held_from=run.held, limit=MOST_A_SWEEP):
        claimed = claim(reminder_id, now=read().wall, held_from=run.held)
        outcome = _send(claimed, read) if claimed else None
        if outcome is not None:
            counts[outcome] += 1
    swept = Swept(
        sent=counts[State.DONE],
        put_off=counts[State.DUE],
        given_up=counts[State.FAILED],
        step_seconds=run.step_seconds,
    )
    finish_run(run, at=read().wall, sent=swept.sent, put_off=swept.put_off + swept.given_up)
    return swept


def _hint_on_commit() -> None:
    """Without the hint the next sweep finds the work all the same."""
    transaction.on_commit(partial(send_hint, SWEEP_TASK), robust=True)


def _move(load: Load, portion: LoadPortion, jars_out_at: datetime) -> int:
    # The conditions stand on the rows themselves, not in a subquery: a sweep may be about to change them.
    mine = Reminder.objects.filter(portion=portion)
    times = {kind: _times(load, portion, kind, jars_out_at) for kind in DUE_AFTER}
    moved = sum(mine.filter(state=State.DUE, kind=kind).update(**times[kind]) for kind in DUE_AFTER)
    mine.update(reprocess_by=_again_by(load, portion))
    mine.filter(due_at__gt=jars_out_at).update(jars_out_at=jars_out_at)
    return moved


def _again_by(load: Load, portion: LoadPortion) -> datetime | None:
    """Rule S11 counts from the first process, also for jars that this load was the second of."""
    ends = (reprocess_by(load.process_ended_at), first_deadline(portion))
    return min((end for end in ends if end is not None), default=None)


def _schedule(load: Load, portion: LoadPortion, kind: Kind, jars_out_at: datetime) -> Reminder:
    times = _times(load, portion, kind, jars_out_at)
    reminder, created = Reminder.objects.get_or_create(
        portion=portion,
        kind=kind,
        channel=Channel.EMAIL,
        defaults={"kitchen": load.harvest_day.kitchen, "recipient": portion.batch.member, **times},
    )
    if not created:
        again = Reminder.objects.filter(pk=reminder.pk, state=State.CANCELLED)
        again.update(state=State.DUE, attempts=0, last_failure="", **times)
        reminder.refresh_from_db()
    return reminder


def _times(load: Load, portion: LoadPortion, kind: Kind, jars_out_at: datetime) -> dict[str, datetime | None]:
    due = due_at(kind, jars_out_at)
    return {
        "jars_out_at": jars_out_at,
        "due_at": due,
        "next_attempt_at": due,
        "reprocess_by": _again_by(load, portion),
    }


def _send(claimed: Claim, read: Callable[[], Reading]) -> State | None:
    """The state that the reminder has come to; None when another sweep took over meanwhile."""
    reminder = claimed.reminder
    try:
        if reminder.attempts > MOST_ATTEMPTS:
            raise NotDelivered(
                "Every sweep that tried to send this ended before it was done.", remedy="Look at the log."
            )
        deliver(message_of(reminder, now=read().wall))
    except NotDelivered as error:
        log.warning("reminder not sent", reminder=str(reminder.pk), reason=error.message)
        return put_off(claimed, now=read().wall, failure=error.message)
    return State.DONE if complete(claimed, now=read().wall) else None
