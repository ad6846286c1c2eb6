"""Reads of the equipment and of canner time."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date, datetime

from django.db.models import Q, QuerySet, prefetch_related_objects

from kitchen.equipment.models import Burner, Canner, CannerTime, CoolingTable, GaugeCheck, Kettle
from kitchen.members.models import Kitchen
from kitchen.prepared import prepared


def canners_of(kitchen: Kitchen) -> QuerySet[Canner]:
    """The kitchen's canners with burner and gauge checks at hand, by primary key."""
    return kitchen.canners.select_related("burner").prefetch_related("gauge_checks").order_by("pk")


def canners_at_hand(kitchen: Kitchen) -> list[Canner]:
    """The same, read."""
    found = _canners(kitchen)
    prefetch_related_objects(found, "gauge_checks")
    return found


@prepared
def _canners(kitchen: Kitchen) -> QuerySet[Canner]:
    return Canner.objects.filter(kitchen=kitchen).select_related("burner").order_by("pk")


@prepared
def burners_of(kitchen: Kitchen) -> QuerySet[Burner]:
    """The kitchen's burners, by primary key."""
    return Burner.objects.filter(kitchen=kitchen).order_by("pk")


@prepared
def kettles_of(kitchen: Kitchen) -> QuerySet[Kettle]:
    """The kitchen's kettles, by primary key."""
    return Kettle.objects.filter(kitchen=kitchen).order_by("pk")


@prepared
def cooling_tables_of(kitchen: Kitchen) -> QuerySet[CoolingTable]:
    """The kitchen's cooling tables, by primary key."""
    return CoolingTable.objects.filter(kitchen=kitchen).order_by("pk")


@prepared
def canners_named(ids: Collection[int]) -> QuerySet[Canner]:
    """The canners with these ids."""
    return Canner.objects.filter(pk__in=ids).order_by()


@prepared
def checks_of(canners: Collection[int]) -> QuerySet[GaugeCheck]:
    """The gauge checks of the canners with these ids."""
    return GaugeCheck.objects.filter(canner__pk__in=canners).order_by()


def newest_check(canner: Canner, on: date) -> GaugeCheck | None:
    """The last gauge check made up to this day; of two on one day, the one recorded later."""
    return newest_of(canner.gauge_checks.all(), on)


def newest_of(checks: Iterable[GaugeCheck], on: date) -> GaugeCheck | None:
    """The same among the checks of one gauge."""
    made = [check for check in checks if check.checked_on <= on]
    return max(made, key=lambda check: (check.checked_on, check.pk), default=None)


def check_before(check: GaugeCheck) -> GaugeCheck | None:
    """The newest check of the same gauge made on a day before this one."""
    earlier = GaugeCheck.objects.filter(canner_id=check.canner_id, checked_on__lt=check.checked_on)
    return earlier.order_by("-checked_on", "-pk").first()


def times_between(canner: Canner, start: datetime, end: datetime) -> QuerySet[CannerTime]:
    """When the canner is taken within ``[start, end)``."""
    return CannerTime.objects.filter(canner=canner, occupies=True, starts_at__lt=end, ends_at__gt=start)


def burner_times_between(canner: Canner, start: datetime, end: datetime) -> QuerySet[CannerTime]:
    """When other canners on the same burner are taken within ``[start, end)``."""
    others = CannerTime.objects.filter(canner__burner_id=canner.burner_id, occupies=True)
    return others.exclude(canner=canner).filter(starts_at__lt=end, ends_at__gt=start)


@prepared
def taken_between(kitchen: Kitchen, start: datetime, end: datetime, now: datetime) -> QuerySet[CannerTime]:
    """When any of the kitchen's canners is taken within ``[start, end)``; what was held and lapsed is free."""
    taken = CannerTime.objects.filter(kitchen=kitchen, occupies=True, starts_at__lt=end, ends_at__gt=start)
    return taken.filter(Q(held_until__isnull=True) | Q(held_until__gt=now)).select_related("canner")
