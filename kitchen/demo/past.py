"""A harvest day that ran by its plan, apart from what the demo's file says went wrong."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from kitchen.batches.models import Batch
from kitchen.demo.fixtures import BatchOf
from kitchen.floor.actions import jars_out, record_event
from kitchen.floor.models import EventKind
from kitchen.members.models import User
from kitchen.planning.actions import close_harvest_day
from kitchen.planning.models import HarvestDay, Load
from kitchen.planning.queries import loads_of
from kitchen.records.actions import review_record, sign_record
from kitchen.records.content import record_of
from kitchen.seals.actions import expire_offers, record_seal_check

# A member counts the jars in the evening or the next morning.
_COUNTED_AFTER = timedelta(hours=14)
_PRESSURE_STEPS = (
    (EventKind.LOADED, "heat_up", False),
    (EventKind.STEADY_STEAM, "vent", False),
    (EventKind.WEIGHT_ON, "pressure_up", False),
    (EventKind.AT_PRESSURE, "process", False),
    (EventKind.HEAT_OFF, "process", True),
    (EventKind.ZERO_PRESSURE, "rest", False),
    (EventKind.LID_OFF, "rest", True),
)
_BOILING_STEPS = (
    (EventKind.LOADED, "heat_up", False),
    (EventKind.FULL_BOIL, "process", False),
    (EventKind.HEAT_OFF, "process", True),
    (EventKind.LID_OFF, "rest", True),
)
"""What is tapped, and at which phase: at its end when True, else at its start."""


def run_past_day(
    *, day: HarvestDay, batches: Sequence[tuple[BatchOf, Batch]], operator: User, lead: User
) -> None:
    """Write the day's process records, take the jars out, count them, and close the day."""
    told = {batch.pk: one for one, batch in batches}
    loads = sorted(loads_of(day), key=lambda load: min(phase.starts_at for phase in load.phases.all()))
    for load in loads:
        _run(load, told, operator)
    for load in loads:
        _count(load, told)
    for load in loads:
        _sign(load, operator, lead)
    expire_offers(now=day.closes_at + timedelta(days=2))
    close_harvest_day(harvest_day=day, actor=lead)


def _run(load: Load, told: dict[int, BatchOf], operator: User) -> None:
    early = max(told[portion.batch_id].heat_off_early_minutes for portion in load.portions.all())
    for kind, at in _steps(load, timedelta(minutes=early)):
        reading = load.target_reading_psi if kind is EventKind.AT_PRESSURE else None
        record_event(load=load, kind=kind, at=at, actor=operator, reading_psi=reading, now=at)
    out = max(phase.ends_at for phase in load.phases.all())
    jars_out(load=load, at=out, actor=operator, now=out)


def _steps(load: Load, early: timedelta) -> Iterator[tuple[EventKind, datetime]]:
    phases = {phase.kind: phase for phase in load.phases.all()}
    for kind, phase, at_end in _PRESSURE_STEPS if load.canner.is_pressure else _BOILING_STEPS:
        at = phases[phase].ends_at if at_end else phases[phase].starts_at
        yield kind, at - early if kind is EventKind.HEAT_OFF else at


def _sign(load: Load, operator: User, lead: User) -> None:
    """The operator signs each record in the evening; the lead reviews those without a deviation."""
    load.refresh_from_db()
    if load.jars_out_at is None:
        return
    digest = record_of(load).digest
    sign_record(load=load, by=operator, digest=digest, now=load.harvest_day.closes_at)
    if not load.deviation:
        tomorrow = load.harvest_day.closes_at + timedelta(hours=15)
        review_record(load=load, by=lead, digest=digest, now=tomorrow)


def _count(load: Load, told: dict[int, BatchOf]) -> None:
    load.refresh_from_db()
    if load.jars_out_at is None:
        return
    at = load.jars_out_at + _COUNTED_AFTER
    for portion in load.portions.all():
        one = told[portion.batch_id]
        record_seal_check(
            portion=portion,
            sealed=portion.jars - one.unsealed - one.broken,
            unsealed=one.unsealed,
            broken=one.broken,
            by=portion.batch.member,
            at=at,
            now=at,
        )
