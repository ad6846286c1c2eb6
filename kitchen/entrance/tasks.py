"""Sending codes and news of accounts, for which no page waits."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from kitchen.entrance import sending, telling
from kitchen.entrance.codes import SEND_TASK


@shared_task(name=SEND_TASK)
def send_codes() -> int:
    """Send the codes that were asked for, and forget old ones; then what people are to know of their accounts."""
    now = timezone.now()
    return sending.send_codes(now=now) + telling.send_news(now=now)
