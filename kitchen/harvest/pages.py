"""Finding the day and the job that an address names."""

from __future__ import annotations

from uuid import UUID

from django.shortcuts import get_object_or_404

from kitchen.members.models import Kitchen
from kitchen.planning.models import HarvestDay, PlanJob


def day_named(kitchen: Kitchen, uuid: UUID) -> HarvestDay:
    """The kitchen's harvest day with this id; not found otherwise."""
    return get_object_or_404(HarvestDay.objects.select_related("kitchen"), kitchen=kitchen, uuid=uuid)


def job_named(day: HarvestDay, uuid: UUID) -> PlanJob:
    """The day's planning job with this id; not found otherwise."""
    return get_object_or_404(
        PlanJob.objects.select_related("harvest_day__kitchen"), harvest_day=day, uuid=uuid
    )
