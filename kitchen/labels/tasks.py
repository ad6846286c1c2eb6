"""Work of the shelf that waits for no person."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from kitchen.labels import reminding


@shared_task
def remind_of_shelf() -> int:
    """Tell members which of their jars to use first."""
    return reminding.remind_of_shelf(now=timezone.now())
