"""The record of sweeps, and the watch over the clock that it makes possible."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import structlog
from django.db import transaction

from kitchen.audit.actions import record
from kitchen.reminders.clock import Reading
from kitchen.reminders.models import SweepRun
from kitchen.reminders.queries import held_from, last_run
from kitchen.reminders.rules import HOLD, MOST_CLOCK_STEP

KEPT = timedelta(days=2)
"""How long an ordinary run stays on record; one that found the clock moved stays for good."""

log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A sweep under way. What became due only after ``held`` is left alone."""

    id: int
    wall: datetime
    held: datetime | None
    step_seconds: float


@transaction.atomic
def begin_run(reading: Reading) -> Run:
    """Write down what the clocks say, and compare it with the run before.

    When the wall clock was moved by more than two minutes there is an alarm, in the log and in the audit
    record. When it was moved ahead, what thereby became due is held for a while, in case the clock is set
    right again.
    """
    step = _step(reading)
    run = SweepRun(wall=reading.wall, elapsed_seconds=reading.elapsed_seconds, boot_id=reading.boot_id)
    if abs(step) > MOST_CLOCK_STEP:
        run.step_seconds = step.total_seconds()
        if step > timedelta():
            run.held_from, run.hold_until = reading.wall - step, reading.wall + HOLD
    run.save()
    if run.step_seconds:
        _raise_alarm(run)
    SweepRun.objects.filter(wall__lt=reading.wall - KEPT, step_seconds=0).exclude(pk=run.pk).delete()
    return Run(id=run.pk, wall=run.wall, held=held_from(reading.wall), step_seconds=run.step_seconds)


def finish_run(run: Run, *, at: datetime, sent: int, put_off: int) -> None:
    """Note that a sweep looked through the whole queue."""
    SweepRun.objects.filter(pk=run.id).update(finished_at=at, sent=sent, put_off=put_off)


def _step(reading: Reading) -> timedelta:
    """How far the wall clock ran away from elapsed time since the run before."""
    before = last_run(reading.boot_id)
    if before is None:
        return timedelta()
    elapsed = timedelta(seconds=reading.elapsed_seconds - before.elapsed_seconds)
    return reading.wall - before.wall - elapsed


def _raise_alarm(run: SweepRun) -> None:
    log.error("the clock was moved", step_seconds=run.step_seconds, wall=run.wall.isoformat())
    record(
        actor=None,
        kitchen=None,
        action="clock_moved",
        subject=run,
        after={"step_seconds": run.step_seconds, "held_from": run.held_from, "hold_until": run.hold_until},
    )
