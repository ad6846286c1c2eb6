"""Sending codes, which no page waits for."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from kitchen.entrance import sending
from kitchen.entrance.codes import SEND_TASK


@shared_task(name=SEND_TASK)
def send_codes() -> int:
    """Send the codes that were asked for, and forget old ones."""
    return sending.send_codes(now=timezone.now())
