"""What the process records say of a day's loads, as plain values, for the question of how to go on.

The lines are reached through the load, for the floor stands above planning.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.planning.queries import started_loads

_HAND_OVER = "hand_over"


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRecord:
    """A load that has begun. ``lines`` are what happened and when, in the order of the clock.

    ``settled`` says that a lead has decided about its deviation. ``canner_failed`` is why its canner was taken out of
    service while the heat was still to be on, empty when it was not.
    """

    key: str
    under_pressure: bool
    lines: tuple[tuple[str, datetime], ...]
    target_reading_psi: float | None
    deviation: str
    on_hold: bool
    settled: bool
    canner_failed: str


def records_of(day: HarvestDay, at: datetime) -> tuple[LoadRecord, ...]:
    """The loads of which something was recorded that had happened by ``at``."""
    loads = started_loads(day).select_related("canner").order_by("pk")
    found = ((load, _lines(load, at)) for load in loads)
    return tuple(_record(load, lines) for load, lines in found if lines)


def _lines(load: Load, at: datetime) -> tuple[tuple[str, datetime], ...]:
    standing = load.run_events.filter(corrected_by__isnull=True, withdraws=False, at__lte=at)
    # Who attends the canner is no step of its cycle.
    standing = standing.exclude(kind=_HAND_OVER)
    return tuple(standing.order_by("at", "pk").values_list("kind", "at"))


def _record(load: Load, lines: tuple[tuple[str, datetime], ...]) -> LoadRecord:
    heat_is_off = any(kind in ("heat_off", "jars_out") for kind, _ in lines)
    failed = load.state == LoadState.RUNNING and not heat_is_off
    return LoadRecord(
        key=load.plan_key,
        under_pressure=load.canner.is_pressure,
        lines=lines,
        target_reading_psi=load.target_reading_psi,
        deviation=load.deviation,
        on_hold=load.on_hold,
        settled=bool(load.deviation) and not load.on_hold,
        canner_failed=load.canner.out_of_service_reason if failed else "",
    )
