"""A decoded day written out as a plan: loads, tasks, people, and what the run sheet must say."""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.caution import CAUTION
from scheduler.plan import Assignment, LeftOut, Level, Plan, Provenance
from scheduler.problem import Day
from scheduler.rack import is_small_load
from scheduler.rota.naming import assign
from scheduler.search.laid_out import LaidOut, jars_in, laid_out
from scheduler.search.placed import Decoded


def write_plan(
    day: Day,
    decoded: Decoded,
    *,
    digest: str,
    levels: tuple[Level, ...],
    left_out: tuple[LeftOut, ...],
    warnings: Iterable[str],
    provenance: Provenance,
    assignments: tuple[Assignment, ...] | None = None,
) -> Plan:
    """The plan of a decoded day; without ``assignments`` people are named for its tasks as they are free."""
    laid = laid_out(day, decoded)
    return Plan(
        day_digest=digest,
        loads=laid.loads,
        tasks=laid.tasks,
        assignments=assign(day, laid.tasks, laid.watchers) if assignments is None else assignments,
        left_out=left_out,
        levels=levels,
        warnings=(*warnings, *_warnings(day, laid)),
        caution=CAUTION,
        provenance=provenance,
    )


def _warnings(day: Day, laid: LaidOut) -> Iterable[str]:
    if not day.tables:
        yield "No cooling table is listed, so nothing says that there is room for the jars (rule S12)."
    heat = dict.fromkeys(text for placed in laid.placed for text in placed.option.cycle.warnings)
    yield from heat
    for load, placed in zip(laid.loads, laid.placed, strict=True):
        canner = day.canners[placed.option.canner]
        if is_small_load(canner, jars_in(day, placed.pieces)):
            yield (
                f"Load {load.id} is a small one for {canner.name}: fill it up with {load.water_jars} jars of water"
                " (rule S13)."
            )
