"""The door through which Celery comes in."""

from __future__ import annotations

from celery import shared_task

from kitchen.hooks import actions, telling


@shared_task(name=actions.SWEEP_TASK)
def tell_programs() -> None:
    """Tell programs what is due. Safe to run twice, late, or many at once."""
    telling.tell_programs()
