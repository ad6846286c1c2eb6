"""A published harvest day as text, for the command line: loads, people, what was left out, how good it is."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import groupby

from kitchen.planning.bridge import read_plan
from kitchen.planning.models import HarvestDay, Load, PlanJob
from kitchen.planning.queries import loads_of


def day_lines(day: HarvestDay, job: PlanJob) -> Iterator[str]:
    """The day, line by line. Times are the kitchen's own."""
    kitchen = day.kitchen
    yield f"{kitchen}, {day.date:%A} {day.date.day} {day.date:%B %Y}, {kitchen.altitude_ft:,} ft"
    yield f"Open {_clock(day, day.opens_at)} to {_clock(day, day.closes_at)}"
    yield from _loads(day)
    yield from _people(day)
    yield from _left_out(day)
    yield from _levels(job)


def _loads(day: HarvestDay) -> Iterator[str]:
    for canner, loads in groupby(loads_of(day), key=lambda load: load.canner):
        yield ""
        yield f"{canner} ({canner.get_kind_display()})"
        for load in loads:
            yield f"  {load.number}. {_process(load)}, lot {load.lot_code}"
            for portion in load.portions.all():
                batch = portion.batch
                jars = f"{portion.jars} {batch.get_jar_display().lower()} jars"
                yield f"     {jars} of {batch.food_name}, {batch.pack} pack, for {batch.member}"
                if portion.acid:
                    yield f"       in each jar: {' or '.join(portion.acid)}"
            if load.water_jars:
                yield f"     {load.water_jars} jars of water to fill up"
            phases = load.phases.all()
            times = ", ".join(f"{_clock(day, phase.starts_at)} {_plain(phase.kind)}" for phase in phases)
            yield f"     {times}, {_clock(day, phases[len(phases) - 1].ends_at)} jars out"


def _people(day: HarvestDay) -> Iterator[str]:
    yield ""
    yield "People"
    shifts = day.shifts.filter(cancelled_at__isnull=True).select_related("user")
    for user, own in groupby(
        shifts.order_by("user__display_name", "user_id", "starts_at"), key=lambda shift: shift.user
    ):
        told = ", ".join(
            f"{_clock(day, shift.starts_at)}-{_clock(day, shift.ends_at)} {shift.task or shift.station}"
            for shift in own
        )
        yield f"  {user or 'Somebody wanted'}: {told}"


def _left_out(day: HarvestDay) -> Iterator[str]:
    for none in day.left_out.select_related("batch__member"):
        yield ""
        yield f"Left out: {none.jars} jars of {none.batch.food_name} for {none.batch.member}"
        yield f"  {none.reason} {none.remedy}"


def _levels(job: PlanJob) -> Iterator[str]:
    plan = read_plan(job.plan)
    yield ""
    yield "Level by level (value, proven least, gap)"
    for level in plan.levels:
        yield f"  {level.name}: {level.value} {level.unit}, {level.bound} ({level.bound_name}), {level.gap:.0%}"
    for warning in plan.warnings:
        yield f"  Mind: {warning}"
    yield ""
    yield plan.caution


def _process(load: Load) -> str:
    pressure = f"{load.target_reading_psi:g} lb on the gauge, " if load.target_reading_psi is not None else ""
    return f"{pressure}{load.process_minutes} min"


def _clock(day: HarvestDay, at: datetime) -> str:
    return f"{at.astimezone(day.kitchen.zone):%H:%M}"


def _plain(kind: str) -> str:
    return kind.replace("_", " ")
