"""A season counted by the database: six questions, however many loads there were.

A season is a calendar year of harvest days. Each question begins at the kitchen's days of that year, so that it takes
as long as that season is big, whatever else the tables hold.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, DurationField, F, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import ExtractMonth

from kitchen.equipment.models import CannerTime
from kitchen.members.models import Kitchen
from kitchen.planning.models import HarvestDay, Load, LoadPortion, LoadState
from kitchen.seals.models import SealCheck

_OUT = (LoadState.OUT, LoadState.CLOSED)
_RULE = re.compile(r"\(rules? (S\d+)")
OTHER_RULE = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seals:
    """Jars of which the seal was checked; a count that was corrected counts once."""

    sealed: int
    unsealed: int
    broken: int

    @property
    def checked(self) -> int:
        """All of them."""
        return self.sealed + self.unsealed + self.broken

    @property
    def percent_sealed(self) -> float | None:
        """Of a hundred jars so many sealed; None when none was checked."""
        return 100 * self.sealed / self.checked if self.checked else None


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodJars:
    """Jars of a food that came out of canners."""

    food: str
    jars: int
    seals: Seals


@dataclass(frozen=True, slots=True, kw_only=True)
class CannerUse:
    """How long a canner was taken, for loads and for members' slots, and how many loads came out of it."""

    name: str
    hours: float
    loads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """A kitchen's year. ``months`` pairs each month that had a check with its seals, ``deviations`` each rule that was
    broken, or ``other``, with the number of loads it was broken in.
    """

    year: int
    foods: tuple[FoodJars, ...]
    canners: tuple[CannerUse, ...]
    months: tuple[tuple[int, Seals], ...]
    deviations: tuple[tuple[str, int], ...]
    loads: int
    loads_with_deviation: int

    @property
    def jars(self) -> int:
        """All jars that came out."""
        return sum(one.jars for one in self.foods)

    @property
    def seals(self) -> Seals:
        """All jars that were checked."""
        seals = [one for _month, one in self.months]
        return Seals(
            sealed=sum(one.sealed for one in seals),
            unsealed=sum(one.unsealed for one in seals),
            broken=sum(one.broken for one in seals),
        )


def years_of(kitchen: Kitchen) -> list[int]:
    """The years in which the kitchen had harvest days, the newest first."""
    return [
        day.year for day in HarvestDay.objects.filter(kitchen=kitchen).dates("date", "year", order="DESC")
    ]


def season_of(kitchen: Kitchen, year: int, now: datetime) -> Season:
    """The year so far."""
    loads = Load.objects.filter(
        harvest_day__kitchen=kitchen, harvest_day__date__year=year, state__in=_OUT
    ).order_by()
    deviations = list(loads.exclude(deviation="").values_list("deviation", flat=True))
    counts = loads.aggregate(many=Count("pk"))
    return Season(
        year=year,
        foods=_foods(loads),
        canners=_canners(kitchen, year, loads, now),
        months=_months(loads),
        deviations=_by_rule(deviations),
        loads=counts["many"],
        loads_with_deviation=len(deviations),
    )


def _foods(loads: QuerySet[Load]) -> tuple[FoodJars, ...]:
    standing = SealCheck.objects.filter(portion=OuterRef("pk"), corrected_by__isnull=True)
    portions = LoadPortion.objects.filter(load__in=loads).annotate(
        **{name: Subquery(standing.values(name)[:1]) for name in ("sealed", "unsealed", "broken")}
    )
    rows = (
        portions.order_by()
        .values_list("batch__food_name")
        .annotate(Sum("jars"), Sum("sealed"), Sum("unsealed"), Sum("broken"))
    )
    found = [
        FoodJars(
            food=food,
            jars=jars,
            seals=Seals(sealed=sealed or 0, unsealed=unsealed or 0, broken=broken or 0),
        )
        for food, jars, sealed, unsealed, broken in rows
    ]
    return tuple(sorted(found, key=lambda one: (-one.jars, one.food)))


def _canners(kitchen: Kitchen, year: int, loads: QuerySet[Load], now: datetime) -> tuple[CannerUse, ...]:
    first = datetime(year, 1, 1, tzinfo=kitchen.zone)
    taken = CannerTime.objects.filter(
        kitchen=kitchen,
        occupies=True,
        held_until__isnull=True,
        starts_at__gte=first,
        starts_at__lt=first.replace(year=year + 1),
        ends_at__lte=now,
    )
    spans = (
        taken.order_by()
        .values_list("canner")
        .annotate(span=Sum(F("ends_at") - F("starts_at"), output_field=DurationField()))
    )
    hours = {canner: span / timedelta(hours=1) for canner, span in spans}
    out = dict(loads.values_list("canner").annotate(Count("pk")))
    return tuple(
        CannerUse(name=name, hours=hours.get(pk, 0.0), loads=out.get(pk, 0))
        for pk, name in kitchen.canners.order_by("code").values_list("pk", "name")
    )


def _months(loads: QuerySet[Load]) -> tuple[tuple[int, Seals], ...]:
    checks = SealCheck.objects.filter(portion__load__in=loads, corrected_by__isnull=True)
    rows = (
        checks.annotate(month=ExtractMonth("portion__load__harvest_day__date"))
        .order_by()
        .values_list("month")
        .annotate(Sum("sealed"), Sum("unsealed"), Sum("broken"))
    )
    return tuple(
        (month, Seals(sealed=sealed, unsealed=unsealed, broken=broken))
        for month, sealed, unsealed, broken in sorted(rows)
    )


def _by_rule(deviations: list[str]) -> tuple[tuple[str, int], ...]:
    """In how many loads each rule was broken."""
    found = Counter(rule for told in deviations for rule in set(map(_rule, told.splitlines())))
    return tuple(sorted(found.items(), key=lambda pair: (-pair[1], pair[0])))


def _rule(line: str) -> str:
    named = _RULE.search(line)
    return OTHER_RULE if named is None else named.group(1)
