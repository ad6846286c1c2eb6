"""A season counted by the database: seven questions, however many loads there were.

A season is a calendar year of harvest days. Each question begins at the kitchen's days of that year, so that it takes
as long as that season is big, whatever else the tables hold.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, DurationField, Exists, F, OuterRef, Sum

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
        return _sum(one for _month, one in self.months)


def years_of(kitchen: Kitchen) -> list[int]:
    """The years in which the kitchen had harvest days, the newest first."""
    return [
        day.year for day in HarvestDay.objects.filter(kitchen=kitchen).dates("date", "year", order="DESC")
    ]


def season_of(kitchen: Kitchen, year: int, now: datetime) -> Season:
    """The year so far."""
    days = dict(HarvestDay.objects.filter(kitchen=kitchen, date__year=year).values_list("pk", "date"))
    loads = Load.objects.filter(harvest_day__in=list(days), state__in=_OUT).order_by()
    deviations = list(loads.exclude(deviation="").values_list("deviation", flat=True))
    seals, out = _seals(days), dict(loads.values_list("canner").annotate(Count("pk")))
    return Season(
        year=year,
        foods=_foods(days, seals),
        canners=_canners(kitchen, year, out, now),
        months=_months(seals),
        deviations=_by_rule(deviations),
        loads=sum(out.values()),
        loads_with_deviation=len(deviations),
    )


def _seals(days: Mapping[int, date]) -> list[tuple[str, int, Seals]]:
    """What was counted, by food and month."""
    corrected = SealCheck.objects.filter(corrects=OuterRef("pk"))
    checks = SealCheck.objects.filter(
        ~Exists(corrected), portion__load__harvest_day__in=list(days), portion__load__state__in=_OUT
    )
    rows = (
        checks.order_by()
        .values_list("portion__batch__food_name", "portion__load__harvest_day")
        .annotate(Sum("sealed"), Sum("unsealed"), Sum("broken"))
    )
    return [(food, days[day].month, Seals(sealed=s, unsealed=u, broken=b)) for food, day, s, u, b in rows]


def _sum(seals: Iterable[Seals]) -> Seals:
    told = list(seals)
    return Seals(
        sealed=sum(one.sealed for one in told),
        unsealed=sum(one.unsealed for one in told),
        broken=sum(one.broken for one in told),
    )


def _foods(days: Mapping[int, date], seals: Sequence[tuple[str, int, Seals]]) -> tuple[FoodJars, ...]:
    out = LoadPortion.objects.filter(load__harvest_day__in=list(days), load__state__in=_OUT)
    rows = out.order_by().values_list("batch__food_name").annotate(Sum("jars"))
    found = [
        FoodJars(food=food, jars=jars, seals=_sum(one for of, _month, one in seals if of == food))
        for food, jars in rows
    ]
    return tuple(sorted(found, key=lambda one: (-one.jars, one.food)))


def _months(seals: Sequence[tuple[str, int, Seals]]) -> tuple[tuple[int, Seals], ...]:
    months = sorted({month for _food, month, _one in seals})
    return tuple((month, _sum(one for _food, of, one in seals if of == month)) for month in months)


def _canners(kitchen: Kitchen, year: int, out: Mapping[int, int], now: datetime) -> tuple[CannerUse, ...]:
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
    return tuple(
        CannerUse(name=name, hours=hours.get(pk, 0.0), loads=out.get(pk, 0))
        for pk, name in kitchen.canners.order_by("code").values_list("pk", "name")
    )


def _by_rule(deviations: list[str]) -> tuple[tuple[str, int], ...]:
    """In how many loads each rule was broken."""
    found = Counter(rule for told in deviations for rule in set(map(_rule, told.splitlines())))
    return tuple(sorted(found.items(), key=lambda pair: (-pair[1], pair[0])))


def _rule(line: str) -> str:
    named = _RULE.search(line)
    return OTHER_RULE if named is None else named.group(1)
