"""How far many records are at once, as lists tell it: of each what is signed, in as many queries for one as for a
thousand.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TypeVar

from django.db.models import Model, QuerySet

from kitchen.equipment.queries import canners_named, checks_of
from kitchen.floor.queries import lines_of
from kitchen.members.models import Kitchen
from kitchen.members.queries import roles_in
from kitchen.planning.models import HarvestDay, Load, LoadPortion
from kitchen.prepared import prepared
from kitchen.records.content import Listed, Read, listed
from kitchen.records.models import RecordSignature
from kitchen.records.queries import MOST_ON_A_LIST, loads_to_review, recorded_loads

Row = TypeVar("Row", bound=Model)

# Of portions and batches what is signed, and what a list is told from.
_OF_PORTION = ("uuid", "jars", "process_key", "headspace_in", "acid")
_OF_BATCH = ("batch__food_id", "batch__pack", "batch__jar")


def listed_of_day(day: HarvestDay) -> list[Listed]:
    """The records of a day's loads."""
    loads = _recorded(day)
    return _listed(day.kitchen, loads, {day.pk: day})


def listed_to_review(kitchen: Kitchen) -> tuple[list[Listed], int]:
    """The records that wait longest, and how many more wait."""
    keys = _waiting(kitchen)
    loads = _loads(keys[:MOST_ON_A_LIST])
    days = {day.pk: day for day in _days({load.harvest_day_id for load in loads})}
    return _listed(kitchen, loads, days), max(len(keys) - MOST_ON_A_LIST, 0)


def _listed(kitchen: Kitchen, loads: Sequence[Load], days: Mapping[int, HarvestDay]) -> list[Listed]:
    pks = [load.pk for load in loads]
    canners = {canner.pk: canner for canner in canners_named({load.canner_id for load in loads})}
    checks = _by("canner_id", checks_of(canners))
    portions, signatures = _by("load_id", _portions(pks)), _by("load_id", _signatures(pks))
    lines, roles = lines_of(loads), roles_in(kitchen)
    found = []
    for load in loads:
        load.canner, load.harvest_day = canners[load.canner_id], days[load.harvest_day_id]
        load.harvest_day.kitchen = kitchen  # It is read already.
        read = Read(
            portions=tuple(portions[load.pk]),
            lines=tuple(lines[load.pk]),
            signatures=tuple(signatures[load.pk]),
            checks=tuple(checks[load.canner_id]),
        )
        found.append(listed(load, read, roles))
    return found


def _by(name: str, rows: Iterable[Row]) -> Mapping[int, list[Row]]:
    found: defaultdict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[getattr(row, name)].append(row)
    return found


@prepared
def _recorded(day: HarvestDay) -> QuerySet[Load]:
    return recorded_loads(day)


@prepared
def _waiting(kitchen: Kitchen) -> QuerySet[Load, int]:
    return loads_to_review(kitchen).values_list("pk", flat=True)


@prepared
def _loads(pks: Collection[int]) -> QuerySet[Load]:
    return Load.objects.filter(pk__in=pks).order_by("jars_out_at", "pk")


@prepared
def _days(pks: Collection[int]) -> QuerySet[HarvestDay]:
    return HarvestDay.objects.filter(pk__in=pks).order_by()


@prepared
def _portions(loads: Collection[int]) -> QuerySet[LoadPortion]:
    portions = LoadPortion.objects.filter(load__pk__in=loads).select_related("batch")
    return portions.only("load", *_OF_PORTION, *_OF_BATCH).order_by("pk")


@prepared
def _signatures(loads: Collection[int]) -> QuerySet[RecordSignature]:
    return RecordSignature.objects.filter(load__pk__in=loads).select_related("by").order_by("pk")
