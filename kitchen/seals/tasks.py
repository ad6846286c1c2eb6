"""Work of the seal check that waits for no person."""

from __future__ import annotations

from celery import shared_task

from kitchen.seals import actions


@shared_task
def expire_offers() -> int:
    """Note that the deadline of open reprocess offers has passed."""
    return actions.expire_offers()
