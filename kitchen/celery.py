"""The Celery app. Messages are hints and may be lost: the database holds what is due and when."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any  # Celery passes message headers as it built them.

from celery import Celery
from celery.signals import before_task_publish, setup_logging
from celery.utils.time import maybe_iso8601

from kitchen.errors import TaskTooFarAhead

MOST_AHEAD = timedelta(minutes=5)
"""Celery's own guide ("Calling Tasks", ETA and countdown) advises no more than several minutes: a broker may
deliver a task that waits longer again and again, or lose it.
"""

app = Celery("kitchen")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@before_task_publish.connect
def refuse_far_ahead(sender: str | None = None, headers: dict[str, Any] | None = None, **_: object) -> None:
    """Refuse a task that is to wait in the broker for more than five minutes, whether by ``eta`` or by
    ``countdown``.
    """
    eta = maybe_iso8601((headers or {}).get("eta"))
    if eta is None:
        return
    if eta.tzinfo is None:
        eta = eta.replace(tzinfo=UTC)
    if eta - datetime.now(UTC) > MOST_AHEAD:
        raise TaskTooFarAhead(
            f"{sender} would wait in the broker until {eta.isoformat()}.",
            remedy="Write a row that is due then; the sweep finds it.",
        )


@setup_logging.connect
def keep_logging(**_: object) -> None:
    """Leave the logging as Django set it up."""
