"""When a message that may wait goes out: not in a person's quiet hours, and with others where they want a digest.

Safety never waits and cannot be switched off. The figures are the program's own, not the trade's.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from enum import Enum
from typing import Protocol
from zoneinfo import ZoneInfo

from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.queries import choices_of

OPTIONAL = (Kind.ROTA, Kind.SHIFT, Kind.SHELF)
"""What a person may do without. Whatever is not here is a matter of safety, but for the digest of these."""
GATHERED = (Kind.ROTA, Kind.SHELF)
"""What a digest may hold; tomorrow's shifts have their own time."""
DIGEST_AT = time(18)
SOON = timedelta(hours=36)
"""News about what begins within this time is not kept for a digest."""


class Way(Enum):
    """What is done with a message now."""

    SEND = "send"
    WAIT = "wait"
    GATHER = "gather"
    SHOW = "show"
    """No e-mail; it stands on the person's own page."""


class Choices(Protocol):
    """What a person chose; see ``models.MailChoices``."""

    quiet_from: time | None
    quiet_until: time | None
    once_a_day: bool
    off: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The way a message takes; ``until`` is when it, or the digest that it is in, is sent."""

    way: Way
    until: datetime | None = None


_NOW = Decision(way=Way.SEND)


def way_of(
    kind: str, choices: Choices | None, *, now: datetime, zone: ZoneInfo, begins: datetime | None = None
) -> Decision:
    """What becomes of a message of this kind that is due; ``begins`` is when begins what it is about, if anything."""
    if choices is None or kind not in (*OPTIONAL, Kind.DIGEST):
        return _NOW
    if kind in choices.off or (kind == Kind.DIGEST and set(GATHERED) <= set(choices.off)):
        return Decision(way=Way.SHOW)
    if choices.once_a_day and kind in GATHERED and (begins is None or begins - now > SOON):
        return Decision(way=Way.GATHER, until=next_at(DIGEST_AT, now, zone))
    if is_quiet(now, choices, zone):
        assert choices.quiet_until is not None  # noqa: S101  (it is quiet)
        return Decision(way=Way.WAIT, until=next_at(choices.quiet_until, now, zone))
    return _NOW


def decide(reminder: Reminder, *, now: datetime) -> Decision:
    """The way that this reminder takes now."""
    begins = reminder.news.get("begins")
    return way_of(
        reminder.kind,
        choices_of(reminder.recipient),
        now=now,
        zone=reminder.kitchen.zone,
        begins=datetime.fromisoformat(begins) if begins else None,
    )


def digest_name(reminder: Reminder, at: datetime) -> str:
    """What the digest at this time is about: one for a kitchen and a day."""
    return f"{reminder.kitchen.slug} {at.astimezone(reminder.kitchen.zone):%Y-%m-%d}"


def is_quiet(now: datetime, choices: Choices, zone: ZoneInfo) -> bool:
    """Whether the clock on the kitchen's wall stands in this person's quiet hours, which may span midnight."""
    starts, ends = choices.quiet_from, choices.quiet_until
    if starts is None or ends is None:
        return False
    clock = now.astimezone(zone).time()
    return starts <= clock < ends if starts < ends else clock >= starts or clock < ends


def next_at(clock: time, now: datetime, zone: ZoneInfo) -> datetime:
    """When the clock on the wall shows this next, strictly after ``now``.

    An hour that comes twice counts both times; where the clock skips this time it is as long after the skip began.
    """
    today = now.astimezone(zone).date()
    shown = (
        datetime.combine(today + timedelta(days=days), clock, zone).replace(fold=fold)
        for days in (0, 1, 2)
        for fold in (0, 1)
    )
    return min(at.astimezone(UTC) for at in shown if at.astimezone(UTC) > now and _is_reached(at))


def _is_reached(at: datetime) -> bool:
    """False for the earlier of two readings of a time that is skipped: the clock does not show it yet."""
    local = at.astimezone(UTC).astimezone(at.tzinfo)
    return local.replace(tzinfo=None) >= at.replace(tzinfo=None)
