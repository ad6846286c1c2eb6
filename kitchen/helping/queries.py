"""Reads of what members said of themselves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from django.db.models import Exists, OuterRef, Q, QuerySet

from kitchen.helping.models import (
    BusyCalendar,
    BusySpan,
    CalendarKind,
    Feeling,
    StationWish,
    Wishes,
)
from kitchen.members.models import Kitchen, Membership, User


class WithHours(Protocol):
    """A row that says from when to when a person is somewhere."""

    pk: int
    user_id: int
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """All that a member asks of a rota; nothing by default. ``comes_with`` is the other's user id."""

    likes: frozenset[str] = frozenset()
    cannot: frozenset[str] = frozenset()
    most_minutes: int | None = None
    comes_with: int | None = None
    learning: bool = False


@dataclass(slots=True)
class _Stations:
    likes: set[str] = field(default_factory=set)
    cannot: set[str] = field(default_factory=set)


def said_in(kitchen: Kitchen, users: Iterable[int]) -> dict[int, Said]:
    """What these people asked in this kitchen, by user id. Who asked nothing is not among them."""
    wanted = {"membership__kitchen": kitchen, "membership__user_id__in": list(users)}
    stations: defaultdict[int, _Stations] = defaultdict(_Stations)
    told = StationWish.objects.filter(**wanted).values_list("membership__user_id", "feeling", "station")
    for user, feeling, station in told:
        of = stations[user]
        (of.likes if feeling == Feeling.LIKES else of.cannot).add(station)
    wishes = Wishes.objects.filter(**wanted).values_list(
        "membership__user_id", "most_minutes", "comes_with__user_id", "learning"
    )
    said = {
        user: Said(
            likes=frozenset(stations[user].likes),
            cannot=frozenset(stations[user].cannot),
            most_minutes=most_minutes,
            comes_with=comes_with,
            learning=learning,
        )
        for user, most_minutes, comes_with, learning in wishes
    }
    for user, of in stations.items():
        said.setdefault(user, Said(likes=frozenset(of.likes), cannot=frozenset(of.cannot)))
    return said


def wishes_of(membership: Membership) -> Wishes:
    """What a member asks; a row that is not kept yet when nothing was asked."""
    found = Wishes.objects.filter(membership=membership).select_related("comes_with__user").first()
    return found or Wishes(membership=membership)


def calendars_of(membership: Membership) -> QuerySet[BusyCalendar]:
    """A member's calendars, of which busy times are known."""
    return BusyCalendar.objects.filter(membership=membership)


def busy_spans(user: User, starts_at: datetime, ends_at: datetime) -> QuerySet[BusySpan]:
    """When a person is busy, by the calendars given in any kitchen they belong to, as far as it meets these hours."""
    return _standing_spans().filter(
        calendar__membership__user=user, starts_at__lt=ends_at, ends_at__gt=starts_at
    )


def clashes_of(rows: Iterable[WithHours]) -> dict[int, list[BusySpan]]:
    """Busy times that meet hours given before, by the row's key. Rows without a clash are not among them."""
    held = list(rows)
    if not held:
        return {}
    first, last = min(row.starts_at for row in held), max(row.ends_at for row in held)
    users = {row.user_id for row in held}
    spans = _standing_spans().filter(
        calendar__membership__user_id__in=users, starts_at__lt=last, ends_at__gt=first
    )
    busy: defaultdict[int, list[BusySpan]] = defaultdict(list)
    for span in spans.select_related("calendar__membership"):
        busy[span.calendar.membership.user_id].append(span)
    found = {
        row.pk: [
            one for one in busy[row.user_id] if one.starts_at < row.ends_at and row.starts_at < one.ends_at
        ]
        for row in held
    }
    return {key: spans for key, spans in found.items() if spans}


def has_clash(user: User, kitchen: Kitchen, now: datetime) -> bool:
    """True when any hours to come that a person gave in this kitchen meet a busy time of theirs."""
    busy = _standing_spans().filter(
        calendar__membership__user=user, starts_at__lt=OuterRef("ends_at"), ends_at__gt=OuterRef("starts_at")
    )
    given = user.attendances.filter(Exists(busy), harvest_day__kitchen=kitchen, ends_at__gt=now)
    return given.exists()


def due_calendars(now: datetime) -> QuerySet[BusyCalendar]:
    """Addresses whose time has come to be read again, the longest waiting first."""
    return (
        BusyCalendar.objects.filter(_STANDING, kind=CalendarKind.ADDRESS, next_read_at__lte=now)
        .select_related("membership__kitchen", "membership__user")
        .order_by("next_read_at", "pk")
    )


_STANDING = Q(membership__left_at__isnull=True, membership__user__is_active=True)


def _standing_spans() -> QuerySet[BusySpan]:
    return BusySpan.objects.filter(
        calendar__membership__left_at__isnull=True, calendar__membership__user__is_active=True
    )
