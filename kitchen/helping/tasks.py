"""The door through which Celery comes in."""

from __future__ import annotations

from celery import shared_task

from kitchen.helping import actions


@shared_task(name=actions.READ_TASK)
def read_due() -> int:
    """Read the calendars whose time has come."""
    return actions.read_due()
