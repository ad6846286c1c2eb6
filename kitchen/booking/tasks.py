"""Work of bookings that waits for no person."""

from __future__ import annotations

from celery import shared_task

from kitchen.booking import following


@shared_task
def lapse_holds() -> int:
    """Free the times whose hold has run out."""
    return following.lapse_holds()
