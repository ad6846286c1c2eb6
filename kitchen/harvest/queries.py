"""What a harvest day's page asks the database for: of each thing what the page shows, and no more."""

from __future__ import annotations

from django.db.models import QuerySet

from kitchen.batches.models import Batch
from kitchen.batches.queries import batches_of_day
from kitchen.equipment.models import Canner
from kitchen.members.models import Kitchen
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.prepared import prepared


@prepared
def brought_to(harvest_day_id: int) -> QuerySet[Batch]:
    """The day's standing batches, with whose they are."""
    return batches_of_day(harvest_day_id)


@prepared
def canners_used(kitchen: Kitchen, day: HarvestDay) -> QuerySet[Canner]:
    """The canners that standing loads of the day are in."""
    loads = Load.objects.filter(harvest_day=day).exclude(state=LoadState.CANCELLED)
    return Canner.objects.filter(kitchen=kitchen, pk__in=loads.order_by().values("canner")).order_by("code")
