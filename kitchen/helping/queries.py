"""Reads of what members said of themselves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from django.db.models import Q, QuerySet

from kitchen.helping.models import (
    BusyCalendar,
    BusySpan,
    CalendarKind,
    Feeling,
    StationWish,
    Wishes,
)
from kitchen.members.models import Kitchen, Membership, User
from kitchen.prepared import prepared


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
    people = tuple(users)
    stations: defaultdict[int, _Stations] = defaultdict(_Stations)
    for user, feeling, station in _stations_said(kitchen, people):
        of = stations[user]
        (of.likes if feeling == Feeling.LIKES else of.cannot).add(station)
    said = {
        user: Said(
            likes=frozenset(stations[user].likes),
            cannot=frozenset(stations[user].cannot),
            most_minutes=most_minutes,
            comes_with=comes_with,
            learning=learning,
        )
        for user, most_minutes, comes_with, learning in _wishes_said(kitchen, people)
    }
    for user, of in stations.items():
        said.setdefault(user, Said(likes=frozenset(of.likes), cannot=frozenset(of.cannot)))
    return said


def wishes_of(membership: Membership) -> Wishes:
    """What a member asks; a row that is not kept yet when nothing was asked."""
    return _wishes.first(membership) or Wishes(membership=membership)


def stations_of(membership: Membership) -> dict[str, str]:
    """What a member chose for each station before."""
    return dict(_feelings(membership))


@prepared
def calendars_of(membership: Membership) -> QuerySet[BusyCalendar]:
    """A member's calendars, of which busy times are known."""
    return BusyCalendar.objects.filter(membership=membership)


@prepared
def _wishes(membership: Membership) -> QuerySet[Wishes]:
    return Wishes.objects.filter(membership=membership).select_related("comes_with__user")


@prepared
def _feelings(membership: Membership) -> QuerySet[StationWish, tuple[str, str]]:
    return StationWish.objects.filter(membership=membership).values_list("station", "feeling")


@prepared
def busy_spans(user: User, starts_at: datetime, ends_at: datetime) -> QuerySet[BusySpan]:
    """When a person is busy, by the calendars given in any kitchen they belong to, as far as it meets these hours."""
    return standing_spans().filter(
        calendar__membership__user=user, starts_at__lt=ends_at, ends_at__gt=starts_at
    )


def clashes_of(rows: Iterable[WithHours]) -> dict[int, list[BusySpan]]:
    """Busy times that meet hours given before, by the row's key. Rows without a clash are not among them."""
    held = list(rows)
    if not held:
        return {}
    first, last = min(row.starts_at for row in held), max(row.ends_at for row in held)
    users = {row.user_id for row in held}
    busy: defaultdict[int, list[BusySpan]] = defaultdict(list)
    for span in _spans_of(users, first, last):
        busy[span.calendar.membership.user_id].append(span)
    found = {
        row.pk: [
            one for one in busy[row.user_id] if one.starts_at < row.ends_at and row.starts_at < one.ends_at
        ]
        for row in held
    }
    return {key: spans for key, spans in found.items() if spans}


@prepared
def _stations_said(kitchen: Kitchen, users: Collection[int]) -> QuerySet[StationWish, tuple[int, str, str]]:
    told = StationWish.objects.filter(membership__kitchen=kitchen, membership__user__pk__in=users)
    return told.values_list("membership__user_id", "feeling", "station")


@prepared
def _wishes_said(
    kitchen: Kitchen, users: Collection[int]
) -> QuerySet[Wishes, tuple[int, int | None, int | None, bool]]:
    told = Wishes.objects.filter(membership__kitchen=kitchen, membership__user__pk__in=users)
    return told.values_list("membership__user_id", "most_minutes", "comes_with__user_id", "learning")


@prepared
def _spans_of(users: Collection[int], first: datetime, last: datetime) -> QuerySet[BusySpan]:
    spans = standing_spans().filter(
        calendar__membership__user__pk__in=users, starts_at__lt=last, ends_at__gt=first
    )
    return spans.select_related("calendar__membership")


def due_calendars(now: datetime) -> QuerySet[BusyCalendar]:
    """Addresses whose time has come to be read again, the longest waiting first."""
    return (
        BusyCalendar.objects.filter(_STANDING, kind=CalendarKind.ADDRESS, next_read_at__lte=now)
        .select_related("membership__kitchen", "membership__user")
        .order_by("next_read_at", "pk")
    )


_STANDING = Q(membership__left_at__isnull=True, membership__user__is_active=True)


def standing_spans() -> QuerySet[BusySpan]:
    """The busy times of people who belong to their kitchen and may sign in."""
    return BusySpan.objects.filter(
        calendar__membership__left_at__isnull=True, calendar__membership__user__is_active=True
    )
