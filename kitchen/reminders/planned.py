"""Reminders that follow a plan, a gauge or a shelf: written down ahead, changed or withdrawn when those change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time

from kitchen.audit.actions import record
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import Load, LoadPortion
from kitchen.reminders.actions import hint_on_commit
from kitchen.reminders.claims import cancel
from kitchen.reminders.models import Channel, Kind, Reminder, State
from kitchen.reminders.rules import check_within_transaction, deadline_reminder_at
from kitchen.reminders.timing import next_at

OFFICE_HOUR = time(9)
"""When what is due on some day is written about, on the kitchen's clock. The program's own figure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What one person is to be told, and when. ``entries`` go along as a calendar; see ``bridge.facts_of``."""

    due_at: datetime
    title: str
    lines: tuple[str, ...]
    path: str
    entries: Sequence[Mapping[str, object]] = field(default=())

    def news(self) -> dict[str, object]:
        """As the reminder keeps it."""
        return {
            "title": self.title,
            "lines": list(self.lines),
            "path": self.path,
            "entries": [dict(entry) for entry in self.entries],
        }


def remind(
    *,
    kitchen: Kitchen,
    kind: Kind,
    about: str,
    wanted: Mapping[User, Planned],
    now: datetime,
    withdraw: bool = True,
) -> int:
    """Have exactly these people told about this, in the caller's transaction; how many reminders that changed.

    Without ``withdraw`` others may have been told of it before.

    What waits is changed or withdrawn; what was sent, or is being sent at this moment, stays as it is and is not sent
    again. Nothing is written down whose time is over.
    """
    check_within_transaction()
    kept = {one.recipient_id: one for one in Reminder.objects.filter(kitchen=kitchen, kind=kind, about=about)}
    names = {user.pk for user in wanted}
    others = [one.pk for key, one in kept.items() if key not in names]
    changed = cancel(others, now=now) if withdraw else 0
    for user, planned in wanted.items():
        changed += _put(kitchen, kind, about, user, planned, kept.get(user.pk), now)
    if changed:
        record(
            actor=None,
            kitchen=kitchen,
            action="plan_reminders",
            subject=kitchen,
            after={"kind": kind, "about": about, "people": sorted(names)},
        )
        hint_on_commit()
    return changed


def remind_of_deadline(*, portion: LoadPortion, jars: int, deadline: datetime, now: datetime) -> None:
    """Have the member told in time that jars which did not seal must be processed again, or not be (rule S11)."""
    check_within_transaction()
    load = Load.objects.select_related("harvest_day__kitchen").get(pk=portion.load_id)
    times = {
        "due_at": deadline_reminder_at(deadline, now),
        "next_attempt_at": deadline_reminder_at(deadline, now),
        "reprocess_by": deadline,
        "jars_out_at": load.jars_out_at,
        "news": {"jars": jars},
    }
    reminder, created = Reminder.objects.get_or_create(
        portion=portion,
        kind=Kind.REPROCESS,
        channel=Channel.EMAIL,
        defaults={"kitchen": load.harvest_day.kitchen, "recipient": portion.batch.member, **times},
    )
    if not created:
        again = Reminder.objects.filter(pk=reminder.pk, state__in=(State.DUE, State.CANCELLED))
        again.update(state=State.DUE, attempts=0, last_failure="", **times)
    record(
        actor=None,
        kitchen=load.harvest_day.kitchen,
        action="remind_of_deadline",
        subject=reminder,
        after={"deadline": deadline, "jars": jars},
    )
    hint_on_commit()


def forget_deadline(*, portion: LoadPortion, now: datetime) -> None:
    """The second process has begun, or there will be none: nobody needs to be told of its deadline."""
    check_within_transaction()
    ids = list(Reminder.objects.filter(portion=portion, kind=Kind.REPROCESS).values_list("pk", flat=True))
    if cancel(ids, now=now):
        record(
            actor=None,
            kitchen=portion.load.harvest_day.kitchen,
            action="forget_deadline",
            subject=portion,
            after={"reminders": len(ids)},
        )


def office_hour(kitchen: Kitchen, now: datetime) -> datetime:
    """The next time at which people are written to about what is due on some day."""
    return next_at(OFFICE_HOUR, now, kitchen.zone).astimezone(UTC)


def _put(
    kitchen: Kitchen,
    kind: Kind,
    about: str,
    user: User,
    planned: Planned,
    kept: Reminder | None,
    now: datetime,
) -> int:
    """Write one down, or change the one that waits; 1 where that changed something."""
    news, due = {"news": planned.news()}, {"due_at": planned.due_at, "next_attempt_at": planned.due_at}
    if kept is None:
        if planned.due_at > now:
            Reminder.objects.create(kitchen=kitchen, recipient=user, kind=kind, about=about, **news, **due)
        return int(planned.due_at > now)
    row = Reminder.objects.filter(pk=kept.pk)
    if kept.due_at == planned.due_at and kept.state == State.DUE:
        # It may wait for the end of quiet hours already: its time stays as it is.
        return row.filter(state=State.DUE).update(**news) if kept.news != planned.news() else 0
    if planned.due_at <= now:
        return 0
    again = row.filter(state__in=(State.DUE, State.CANCELLED))
    return again.update(state=State.DUE, attempts=0, last_failure="", **news, **due)
