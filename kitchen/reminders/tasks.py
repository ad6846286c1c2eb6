"""The door through which Celery comes in."""

from __future__ import annotations

from celery import shared_task

from kitchen.reminders import sweeping


@shared_task(name=sweeping.SWEEP_TASK)
def sweep_due() -> None:
    """Send what is due. Safe to run twice, late, or many at once."""
    sweeping.sweep_due()
