"""What the page of a member's wishes shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Protocol
from uuid import UUID

from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils.safestring import SafeString

from kitchen.helping.bridge import Hours, busy_between
from kitchen.helping.queries import clashes_of
from kitchen.language.pieces import kept_piece
from kitchen.members.models import Kitchen, Membership, User
from kitchen.members.queries import members_of, membership_of

SHOWN_DAYS = 28
"""Of the busy times that are known, the next four weeks are listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BusyDay:
    """A day with the times in which somebody is busy, in the kitchen's zone."""

    day: date
    times: list[tuple[datetime, datetime]]


class OfDay(Protocol):
    """The part of a harvest day that is shown."""

    uuid: UUID
    date: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Hours that were given, and the busy times that were found in them since."""

    day: OfDay
    starts_at: datetime
    ends_at: datetime
    busy: list[tuple[datetime, datetime]]


def membership_named(kitchen: Kitchen, user: User, uuid: UUID | None) -> Membership:
    """One's own membership, or the one that the address names; not found otherwise."""
    if uuid is None:
        found = membership_of(user, kitchen)
        if found is None:
            raise Http404
        return found
    return get_object_or_404(members_of(kitchen).select_related("kitchen"), uuid=uuid)


def busy_days(user: User, kitchen: Kitchen, now: datetime) -> list[BusyDay]:
    """When a person is busy during the next weeks, day by day; a time over midnight stands under both days."""
    first = now.astimezone(kitchen.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    busy = busy_between(user, first, first + timedelta(days=SHOWN_DAYS))
    days = []
    for number in range(SHOWN_DAYS):
        starts = first + timedelta(days=number)
        times = _within(busy, starts, starts + timedelta(days=1), kitchen)
        if times:
            days.append(BusyDay(day=starts.date(), times=times))
    return days


def clashes_in(kitchen: Kitchen, user: User, now: datetime) -> list[Clash]:
    """The hours to come that a person gave and that their calendars now call busy."""
    coming = user.attendances.filter(harvest_day__kitchen=kitchen, ends_at__gt=now).select_related(
        "harvest_day"
    )
    rows = {row.pk: row for row in coming}
    return [
        Clash(
            day=rows[key].harvest_day,
            starts_at=rows[key].starts_at,
            ends_at=rows[key].ends_at,
            busy=_within(
                tuple((span.starts_at, span.ends_at) for span in spans),
                rows[key].starts_at,
                rows[key].ends_at,
                kitchen,
            ),
        )
        for key, spans in clashes_of(rows.values()).items()
    ]


def others_piece(kitchen: Kitchen, membership: Membership) -> SafeString | None:
    """Everybody else by name, leading to their wishes; None when there is nobody else."""
    told = members_of(kitchen).exclude(pk=membership.pk)
    names = [(one.uuid, str(one.user)) for one in told.only("uuid", "user__display_name", "user__email")]
    shown = {"kitchen": kitchen, "others": names}
    whole = (kitchen.slug, names)
    return kept_piece("helping/others.html", whole, lambda: shown, kitchen.zone) if names else None


def _within(
    busy: Hours, starts_at: datetime, ends_at: datetime, kitchen: Kitchen
) -> list[tuple[datetime, datetime]]:
    return [
        (max(starts, starts_at).astimezone(kitchen.zone), min(ends, ends_at).astimezone(kitchen.zone))
        for starts, ends in busy
        if starts < ends_at and starts_at < ends
    ]
