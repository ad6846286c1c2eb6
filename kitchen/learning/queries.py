"""Reads of measured times."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from django.db.models import QuerySet

from kitchen.batches.models import Batch, BatchState
from kitchen.learning.models import MeasuredTime
from kitchen.members.models import Kitchen
from kitchen.prepared import prepared

# Burners wear and people change: what is older is not learned from. Common practice, no source.
OLDEST = timedelta(days=730)
# The newest so many times decide, which a busy kitchen writes in a season; a guard against a slow page.
MOST_TIMES = 5000
# Work is timed while it is fresh; older batches are not offered.
TIMED_WITHIN = timedelta(days=14)


class PlainTime(NamedTuple):
    """What is learned from of one measured time, without the rest of its row: thousands are read for one plan."""

    kind: str
    family: int | None
    canner_id: int | None
    usual_minutes: float
    recorded_minutes: float
    least_minutes: int


def keys_before(kitchen: Kitchen, day: date) -> tuple[int, ...]:
    """The keys of ``times_before``. A time that is noted never changes: it is withdrawn, or noted anew with another
    key, so the same keys stand for the same times. Not to be asked in a transaction that noted times itself: should it
    be taken back, SQLite gives its keys out again.
    """
    return tuple(_keys(kitchen, day, day - OLDEST))


def plain_times(keys: Collection[int]) -> list[PlainTime]:
    """The times with these keys, as far as anything is learned from them."""
    return list(map(PlainTime._make, _plain_times(keys)))


@prepared
def _keys(kitchen: Kitchen, day: date, oldest: date) -> QuerySet[MeasuredTime, int]:
    return _standing_times(kitchen, day, oldest).values_list("pk", flat=True)


@prepared
def _plain_times(keys: Collection[int]) -> QuerySet[MeasuredTime, tuple[Any, ...]]:
    return MeasuredTime.objects.filter(pk__in=keys).order_by("-on", "-pk").values_list(*PlainTime._fields)


def times_before(kitchen: Kitchen, day: date) -> QuerySet[MeasuredTime]:
    """What was measured on days before this one, the newest first.

    A day is planned by the days before it, so that its own records never change its plan under the people who
    are working by it.
    """
    return _standing_times(kitchen, day, day - OLDEST)


def _standing_times(kitchen: Kitchen, day: date, oldest: date) -> QuerySet[MeasuredTime]:
    standing = MeasuredTime.objects.filter(
        kitchen=kitchen, withdrawn_at__isnull=True, on__lt=day, on__gte=oldest
    )
    return standing.order_by("-on", "-pk")[:MOST_TIMES]


def batches_to_time(kitchen: Kitchen, now: datetime) -> QuerySet[Batch]:
    """The batches of the last days, of which the work may be timed, the newest first."""
    lately = Batch.objects.filter(kitchen=kitchen, arrives_at__gte=now - TIMED_WITHIN, arrives_at__lte=now)
    standing = lately.exclude(state=BatchState.CANCELLED)
    return standing.select_related("member").order_by("-arrives_at", "-pk")
