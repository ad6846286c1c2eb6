"""Reads of the queue: what may be sent, what is late, what was given up, and what members are shown."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db.models import Q, QuerySet

from kitchen.members.models import Kitchen, User
from kitchen.planning.models import LoadPortion
from kitchen.prepared import prepared
from kitchen.reminders.models import MailChoices, Notice, Reminder, State, SweepRun

_MOST_NOTICES = 50

_WORDS_NEED = (
    *("kitchen__name", "kitchen__time_zone"),
    *("recipient__uuid", "recipient__email", "recipient__display_name"),
    *("recipient__language", "recipient__units"),
    *("portion__uuid", "portion__jars", "portion__batch__jar", "portion__batch__food_name"),
    *("portion__load__lot_code", "portion__load__on_hold", "portion__load__deviation"),
    "portion__load__canner__name",
    "kitchen__slug",
    *(f"recipient__mail_choices__{name}" for name in ("quiet_from", "quiet_until", "once_a_day", "off")),
)
"""What a message is made of, apart from the reminder itself. Most of what a kitchen and a load are is not in it, and to
read all of it took longer than to word the message.
"""


def to_be_sent(ids: Sequence[UUID], token: UUID) -> QuerySet[Reminder]:
    """Those of the rows that bear this token, with all that their messages need; the longest due first."""
    rows = Reminder.objects.filter(pk__in=ids, claim_token=token)  # The token alone stands in no index.
    own = [field.attname for field in Reminder._meta.concrete_fields]
    joined = rows.select_related(
        "kitchen", "recipient__mail_choices", "portion__batch", "portion__load__canner"
    )
    return joined.only(*own, *_WORDS_NEED).order_by("due_at", "id")


def claimable(now: datetime, *, held_from: datetime | None = None) -> QuerySet[Reminder]:
    """What a sweep may take: due, or left behind by a sweep whose lease ran out.

    What became due, or ran out, only after ``held_from`` waits.
    """
    return due(now, held_from=held_from) | _left_behind(now, held_from)


def due(now: datetime, *, held_from: datetime | None = None) -> QuerySet[Reminder]:
    """What waits for a first or a further attempt whose time has come."""
    return Reminder.objects.filter(state=State.DUE, next_attempt_at__lte=_believed(now, held_from))


def left_behind_ids(now: datetime, *, held_from: datetime | None = None, limit: int) -> list[UUID]:
    """What sweeps had claimed that are gone, the longest ago first."""
    rows = _left_behind(now, held_from).order_by("lease_until")
    return list(rows.values_list("pk", flat=True)[:limit])


def _left_behind(now: datetime, held_from: datetime | None) -> QuerySet[Reminder]:
    return Reminder.objects.filter(state=State.SENDING, lease_until__lte=_believed(now, held_from))


def _believed(now: datetime, held_from: datetime | None) -> datetime:
    return now if held_from is None else min(now, held_from)


def held_from(now: datetime) -> datetime | None:
    """The moment after which a due time is not believed yet, because the clock was moved; None usually.

    A run that lies ahead of now stems from a clock that was set right since: its hold is over.
    """
    holds = SweepRun.objects.filter(hold_until__gt=now, wall__lte=now).order_by("held_from")
    return holds.values_list("held_from", flat=True).first()


def last_run(boot_id: str) -> SweepRun | None:
    """The newest look at the queue since this machine started; None when there was none."""
    return SweepRun.objects.filter(boot_id=boot_id).order_by("-pk").first() if boot_id else None


def last_sweep_at() -> datetime | None:
    """When the queue was last looked through to its end: the sign of life for a health page."""
    return (
        SweepRun.objects.filter(finished_at__isnull=False)
        .order_by("-pk")
        .values_list("wall", flat=True)
        .first()
    )


def overdue(now: datetime) -> QuerySet[Reminder]:
    """What should have gone out by now and did not, given up or not; the oldest first.

    What waits for the end of its reader's quiet hours is not late.
    """
    waiting = Reminder.objects.filter(state__in=(State.DUE, State.SENDING, State.FAILED), due_at__lte=now)
    by_choice = Q(state=State.DUE, attempts=0, next_attempt_at__gt=now)
    return waiting.exclude(by_choice).order_by("due_at", "id")


def given_up(kitchen: Kitchen) -> QuerySet[Reminder]:
    """What could not be sent at all: the lead must reach these people another way."""
    failed = Reminder.objects.filter(kitchen=kitchen, state=State.FAILED)
    return failed.select_related("recipient", "portion__load").order_by("due_at", "id")


def gathered_in(digest: Reminder) -> QuerySet[Reminder]:
    """What goes out in this one message, in the order in which it became due."""
    return Reminder.objects.filter(went_with=digest).order_by("due_at", "id")


def choices_of(user: User) -> MailChoices | None:
    """What a person chose about their mail; None as long as they chose nothing."""
    try:
        return user.mail_choices
    except MailChoices.DoesNotExist:
        return None


def first_deadline(portion: LoadPortion) -> datetime | None:
    """Of jars that are processed again already, until when that had to begin; None for all others.

    It is reached through the jars, for reprocessing stands above reminders.
    """
    booked = getattr(portion.batch, "reprocess_booking", None) or getattr(portion, "reprocess_of", None)
    deadline: datetime | None = None if booked is None else booked.offer.deadline
    return deadline


def newest_notices(user: User, kitchen: Kitchen) -> list[Notice]:
    """The newest of ``notices_of``, as many as a page shows; kitchen and person at hand are those of each."""
    found = _newest_notices(user, kitchen)
    for notice in found:
        notice.recipient, notice.reminder.kitchen = user, kitchen
        if notice.reminder.recipient_id == user.pk:
            notice.reminder.recipient = user
    return found


@prepared
def _newest_notices(user: User, kitchen: Kitchen) -> QuerySet[Notice]:
    mine = notices_of(user, kitchen).select_related(None)
    shown = mine.select_related("reminder__portion__batch", "reminder__portion__load__canner")
    return shown[:_MOST_NOTICES]


def notices_of(user: User, kitchen: Kitchen) -> QuerySet[Notice]:
    """What a person is shown on their own page, the newest first, with all that its words need."""
    mine = Notice.objects.filter(recipient=user, reminder__kitchen=kitchen)
    return mine.select_related(
        "reminder__kitchen",
        "reminder__recipient",
        "reminder__portion__batch",
        "reminder__portion__load__canner",
    )
