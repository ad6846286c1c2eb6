"""The door through which Celery comes in."""

from __future__ import annotations

from celery import shared_task

from kitchen.reminders import actions


@shared_task(name=actions.SWEEP_TASK)
def sweep_due() -> None:
    """Send what is due. Safe to run twice, late, or many at once."""
    actions.sweep_due()
