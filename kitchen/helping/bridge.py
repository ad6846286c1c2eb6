"""Hours and busy times as the planner's spans, and what else these pages need from it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from uuid import UUID

from kitchen.helping.queries import busy_spans
from kitchen.members.models import User
from scheduler.agenda import entry_uid
from scheduler.caution import CAUTION
from scheduler.interval import Span, intersect, merge, subtract

__all__ = ["CAUTION", "OWN_ENTRIES", "busy_between", "hours_without_busy"]

OWN_ENTRIES = entry_uid("shift", UUID(int=0)).rpartition("@")[2]
"""The domain of the ids of the kitchen's own calendar entries."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MINUTE = timedelta(minutes=1)

Hours = tuple[tuple[datetime, datetime], ...]
"""From when to when, several times, in order and apart from each other; in UTC."""


def busy_between(user: User, starts_at: datetime, ends_at: datetime) -> Hours:
    """When the person's calendars say busy within these hours."""
    return _hours(intersect([_span(starts_at, ends_at)], _busy(user, starts_at, ends_at)))


def hours_without_busy(user: User, starts_at: datetime, ends_at: datetime) -> Hours:
    """What is left of these hours when the busy times of the person's calendars are taken out; may be nothing."""
    return _hours(subtract([_span(starts_at, ends_at)], _busy(user, starts_at, ends_at)))


def _busy(user: User, starts_at: datetime, ends_at: datetime) -> tuple[Span, ...]:
    spans = busy_spans(user, starts_at, ends_at)
    return merge(_span(one.starts_at, one.ends_at) for one in spans)


def _span(starts_at: datetime, ends_at: datetime) -> Span:
    """Minutes since 1970; busy times are kept in whole minutes, and so are hours that are given."""
    return Span((starts_at - _EPOCH) // _MINUTE, (ends_at - _EPOCH) // _MINUTE)


def _hours(spans: Iterable[Span]) -> Hours:
    return tuple((_EPOCH + one.start * _MINUTE, _EPOCH + one.end * _MINUTE) for one in spans)
