"""Reads for calendars: whose feed an address is, and what stands in it."""

from __future__ import annotations

from datetime import datetime, timedelta
from hashlib import sha256
from hmac import compare_digest

from django.db.models import Prefetch, Q, QuerySet

from kitchen.batches.models import Slot
from kitchen.calendars.models import Feed
from kitchen.equipment.models import Canner
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import HarvestDay, Load, LoadPortion, LoadState
from kitchen.planning.queries import harvest_days
from kitchen.rota.models import FormerHolder, Shift

CANCELLED_SHOWN = timedelta(days=7)
"""How long a cancelled entry is shown as such: long enough for a client that looks once a day."""
PAST_SHOWN = timedelta(days=90)


def digest_of(secret: str) -> str:
    """What is kept of a secret."""
    return sha256(secret.encode()).hexdigest()


def standing_feed(secret: str) -> Feed | None:
    """The feed with this secret that nobody revoked, or None."""
    digest = digest_of(secret)
    found = (
        Feed.objects.filter(digest=digest, revoked_at__isnull=True)
        .select_related("kitchen", "user", "canner")
        .first()
    )
    return found if found and compare_digest(found.digest, digest) else None


def feeds_of(user: User, kitchen: Kitchen) -> QuerySet[Feed]:
    """A person's standing feeds in a kitchen."""
    return Feed.objects.filter(user=user, kitchen=kitchen, revoked_at__isnull=True).select_related(
        "kitchen", "user", "canner"
    )


def slots_shown(user: User, kitchen: Kitchen, now: datetime) -> QuerySet[Slot]:
    """A person's slots, with those cancelled lately."""
    return _slots_shown(now).filter(member=user, kitchen=kitchen)


def slots_of_canner_shown(canner: Canner, now: datetime) -> QuerySet[Slot]:
    """Anybody's slots on a canner, with those cancelled lately."""
    return _slots_shown(now).filter(canner_time__canner=canner)


def portions_shown(user: User, kitchen: Kitchen, now: datetime) -> QuerySet[LoadPortion]:
    """The jars of a person in the kitchen's loads, with those of loads cancelled lately."""
    portions = LoadPortion.objects.filter(
        batch__member=user, load__in=_loads_shown(now), batch__kitchen=kitchen
    )
    return portions.select_related("batch", "load__canner", "load__harvest_day").prefetch_related(
        "load__phases"
    )


def shifts_shown(user: User, kitchen: Kitchen, now: datetime) -> QuerySet[Shift]:
    """A person's shifts, with those cancelled lately."""
    return _shifts_shown(kitchen, now).filter(user=user)


def rota_shown(kitchen: Kitchen, now: datetime) -> QuerySet[Shift]:
    """Everybody's shifts on harvest days and the open ones, with those cancelled lately."""
    return _shifts_shown(kitchen, now).filter(harvest_day__in=harvest_days())


def lost_shifts_shown(user: User, kitchen: Kitchen, now: datetime) -> QuerySet[Shift]:
    """Shifts that were a person's until lately and are another's now, or nobody's, and still to come."""
    lost = FormerHolder.objects.filter(user=user, lost_at__gt=now - CANCELLED_SHOWN)
    shifts = Shift.objects.filter(
        pk__in=lost.values("shift"), ends_at__gt=now, harvest_day__kitchen=kitchen
    ).exclude(user=user)
    return shifts.select_related("user", "load", "harvest_day")


def loads_shown(kitchen: Kitchen, now: datetime) -> QuerySet[Load]:
    """The loads of the kitchen's harvest days, with those cancelled lately."""
    return _with_jars(_loads_shown(now).filter(harvest_day__kitchen=kitchen, harvest_day__in=harvest_days()))


def loads_of_canner_shown(canner: Canner, now: datetime) -> QuerySet[Load]:
    """The loads on a canner on harvest days, with those cancelled lately."""
    return loads_shown(canner.kitchen, now).filter(canner=canner)


def loads_of_day(day: HarvestDay) -> QuerySet[Load]:
    """The day's standing loads."""
    return _with_jars(Load.objects.filter(harvest_day=day).exclude(state=LoadState.CANCELLED))


def shifts_of_day(day: HarvestDay) -> QuerySet[Shift]:
    """The day's standing shifts."""
    return Shift.objects.filter(harvest_day=day, cancelled_at__isnull=True).select_related("user", "load")


def _slots_shown(now: datetime) -> QuerySet[Slot]:
    times = Q(canner_time__ends_at__gt=now - PAST_SHOWN) & _not_long_cancelled(now, "canner_time__ends_at")
    return Slot.objects.filter(times).select_related("canner_time__canner", "batch")


def _shifts_shown(kitchen: Kitchen, now: datetime) -> QuerySet[Shift]:
    times = Q(ends_at__gt=now - PAST_SHOWN) & _not_long_cancelled(now, "ends_at")
    shifts = Shift.objects.filter(times, harvest_day__kitchen=kitchen)
    return shifts.select_related("user", "load", "harvest_day")


def _loads_shown(now: datetime) -> QuerySet[Load]:
    times = Q(harvest_day__closes_at__gt=now - PAST_SHOWN)
    shown = Load.objects.filter(times & _not_long_cancelled(now, "harvest_day__closes_at"))
    return shown.exclude(state=LoadState.CANCELLED, cancelled_at__isnull=True)


def _with_jars(loads: QuerySet[Load]) -> QuerySet[Load]:
    portions = LoadPortion.objects.select_related("batch").order_by("pk")
    return loads.select_related("canner", "harvest_day").prefetch_related(
        "phases", Prefetch("portions", queryset=portions)
    )


def _not_long_cancelled(now: datetime, ends_at: str) -> Q:
    """Standing, or cancelled within the last days and still to come."""
    lately = Q(cancelled_at__gt=now - CANCELLED_SHOWN, **{f"{ends_at}__gt": now})
    return Q(cancelled_at__isnull=True) | lately
