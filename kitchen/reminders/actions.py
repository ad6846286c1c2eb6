"""Writing reminders down, moving and cancelling them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from functools import partial

from django.db import transaction

from kitchen.audit.actions import record
from kitchen.errors import AlreadyDecided, NotAllowed
from kitchen.hints import send_hint
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.models import Load, LoadPortion
from kitchen.reminders.claims import cancel
from kitchen.reminders.clock import read_clock
from kitchen.reminders.models import OF_JARS, Channel, Kind, Notice, Reminder, State
from kitchen.reminders.queries import first_deadline
from kitchen.reminders.rules import (
    DUE_AFTER,
    check_jars_out_time,
    check_within_transaction,
    deadline_reminder_at,
    due_at,
    reprocess_by,
)
from kitchen.reminders.sweeping import SWEEP_TASK


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
    hint_on_commit()
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
    hint_on_commit()
    return moved


def cancel_for_portion(
    *, portion: LoadPortion, now: datetime | None = None, kinds: Collection[Kind] = OF_JARS
) -> int:
    """Cancel what was not sent: the jars are thrown out, or never came out. How many that were.

    One that is being sent at this moment goes out. Of jars that are only counted, ``kinds`` says what is over.
    """
    check_within_transaction()
    ids = Reminder.objects.filter(portion=portion, kind__in=kinds).values_list("pk", flat=True)
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
    *,
    kitchen: Kitchen,
    to: Iterable[User],
    title: str,
    lines: Sequence[str],
    path: str,
    at: datetime,
    begins: datetime | None = None,
    kind: Kind = Kind.ROTA,
) -> list[Reminder]:
    """Write down news for each of these people, in the caller's transaction; it goes out at once after it.

    Everybody gets it once, however often they are named. ``path`` is the page that it leads to, from the slash on. News
    of the rota waits for the end of quiet hours; what begins soon, at ``begins``, is kept for no digest. News of safety
    waits for nothing.
    """
    check_within_transaction()
    people = {person.pk: person for person in to}
    news = {"title": title, "lines": list(lines), "path": path}
    if begins is not None:
        news["begins"] = begins.isoformat()
    told = [
        Reminder.objects.create(
            kitchen=kitchen, recipient=person, kind=kind, news=news, due_at=at, next_attempt_at=at
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
        hint_on_commit()
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
    hint_on_commit()


@transaction.atomic
def see_notice(*, notice: Notice, actor: User, now: datetime | None = None) -> None:
    """Note that a person has looked at their notice. Seeing it again changes nothing."""
    if notice.recipient_id != actor.pk:
        raise NotAllowed("This notice is for another person.", remedy="Sign in as that person.")
    at = now or read_clock().wall
    if Notice.objects.filter(pk=notice.pk, seen_at__isnull=True).update(seen_at=at):
        kitchen = notice.reminder.kitchen
        record(actor=actor, kitchen=kitchen, action="see_notice", subject=notice, after={"seen_at": at})


def hint_on_commit() -> None:
    """Without the hint the next sweep finds the work all the same."""
    transaction.on_commit(partial(send_hint, SWEEP_TASK), robust=True)


def _move(load: Load, portion: LoadPortion, jars_out_at: datetime) -> int:
    # The conditions stand on the rows themselves, not in a subquery: a sweep may be about to change them.
    mine = Reminder.objects.filter(portion=portion)
    times = {kind: _times(load, portion, kind, jars_out_at) for kind in DUE_AFTER}
    moved = sum(mine.filter(state=State.DUE, kind=kind).update(**times[kind]) for kind in DUE_AFTER)
    again_by = _again_by(load, portion)
    mine.update(reprocess_by=again_by)
    if again_by is not None:
        at = deadline_reminder_at(again_by, jars_out_at + DUE_AFTER[Kind.FIRST_CALL])
        moved += mine.filter(state=State.DUE, kind=Kind.REPROCESS).update(due_at=at, next_attempt_at=at)
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
