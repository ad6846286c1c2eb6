"""The door through which Celery comes in."""

from __future__ import annotations

from celery import shared_task

from kitchen.reminders import gauges, sweeping
from kitchen.reminders.clock import read_clock


@shared_task(name=sweeping.SWEEP_TASK)
def sweep_due() -> None:
    """Send what is due. Safe to run twice, late, or many at once."""
    sweeping.sweep_due()


@shared_task
def remind_of_gauges() -> int:
    """Tell the leads in time which dial gauges must be checked."""
    return gauges.remind_of_gauges(now=read_clock().wall)
