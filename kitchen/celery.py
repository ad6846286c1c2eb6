"""The Celery app. Messages are hints and may be lost: the database holds what is due and when."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any  # Task arguments are the tasks' own affair; this module passes them on.

from celery import Celery
from celery.result import AsyncResult
from celery.signals import setup_logging, worker_ready

from kitchen.errors import TaskTooFarAhead
from kitchen.hints import send_hint

MOST_AHEAD = timedelta(minutes=5)
"""Celery's own guide ("Calling Tasks", ETA and countdown) advises no more than several minutes: a broker may
deliver a task that waits longer again and again, or lose it.
"""


class KitchenTasks(Celery):
    """A Celery app that lets nothing wait long in the broker.

    The refusal stands here because Celery logs and forgets what a receiver of ``before_task_publish`` raises.
    """

    def send_task(
        self,
        name: str,
        args: Sequence[Any] | None = None,
        kwargs: dict[str, Any] | None = None,
        countdown: float | None = None,
        eta: datetime | None = None,
        *rest: Any,
        **options: Any,
    ) -> AsyncResult[Any]:
        """Send a task, however it was called. More than five minutes ahead it is ``TaskTooFarAhead``."""
        check_wait(name, countdown, eta, now=datetime.now(UTC))
        return super().send_task(name, args, kwargs, countdown, eta, *rest, **options)


def check_wait(task: str, countdown: float | None, eta: datetime | None, *, now: datetime) -> None:
    """Refuse a wait of more than five minutes, whether given as seconds or as a time. A naive time is UTC."""
    wait = timedelta(seconds=countdown or 0)
    if eta is not None:
        wait = max(wait, (eta if eta.tzinfo else eta.replace(tzinfo=UTC)) - now)
    if wait > MOST_AHEAD:
        raise TaskTooFarAhead(
            f"{task} would wait in the broker for {wait}.",
            remedy="Write a row that is due then; the sweep finds it.",
        )


app = KitchenTasks("kitchen")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@worker_ready.connect
def sweep_at_once(**_: object) -> None:
    """Look at what became due while no worker ran, instead of waiting for beat's first turn."""
    send_hint(app.conf.beat_schedule["sweep_due"]["task"])


@setup_logging.connect
def keep_logging(**_: object) -> None:
    """Leave the logging as Django set it up."""
