"""Reads of the process record."""

from __future__ import annotations

from django.db.models import QuerySet

from kitchen.floor.models import RunEvent
from kitchen.planning.models import Load, LoadState


def standing_events(load: Load) -> list[RunEvent]:
    """What happened, in the order of the clock: corrected lines are left out, and lines that only withdraw
    one.
    """
    events = RunEvent.objects.filter(load=load, corrected_by__isnull=True, withdraws=False)
    return list(events.select_related("recorded_by").order_by("at", "pk"))


def whole_record(load: Load) -> list[RunEvent]:
    """Every line ever written, in the order of writing, with what corrected it."""
    events = RunEvent.objects.filter(load=load).select_related("recorded_by", "corrects", "corrected_by")
    return list(events.order_by("pk"))


def finished_loads() -> QuerySet[Load]:
    """The loads of all kitchens whose jars are out, the oldest first."""
    out = Load.objects.filter(state__in=(LoadState.OUT, LoadState.CLOSED))
    return out.select_related("canner__burner", "harvest_day__kitchen").order_by("jars_out_at", "pk")
