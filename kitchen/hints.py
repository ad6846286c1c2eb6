"""Hints to the worker that there is something to do. A hint may be lost; no page waits for the broker."""

from __future__ import annotations

import structlog
from celery import current_app
from kombu.exceptions import KombuError

EXPIRES_SECONDS = 30
"""As long as beat's own period: an older hint has been overtaken by a regular look."""
_ANSWER_SECONDS = 0.2
# Only for this one connection: a worker must wait for messages longer than this. Without them kombu tries
# again for seconds when a Redis server is down, and waits for ever when it hangs.
_IMPATIENT = {
    "max_retries": 0,
    "socket_connect_timeout": _ANSWER_SECONDS,
    "socket_timeout": _ANSWER_SECONDS,
    "retry_on_timeout": False,
}

log = structlog.get_logger(__name__)


def send_hint(task: str, *arguments: str | int) -> bool:
    """Ask a worker to run this task soon. False, and a line in the log, when the broker does not answer."""
    try:
        with current_app.connection_for_write(transport_options=_IMPATIENT) as connection:
            current_app.send_task(
                task,
                args=arguments,
                connection=connection,
                expires=EXPIRES_SECONDS,
                ignore_result=True,
                retry=False,
            )
    except (KombuError, OSError) as error:
        log.warning("no hint could be sent", task=task, reason=str(error))
        return False
    return True


def broker_answers() -> bool:
    """Whether a hint could be sent at this moment. It takes no longer than a hint may."""
    try:
        with current_app.connection_for_write(transport_options=_IMPATIENT) as connection:
            # Opened when it is asked for, with no more patience than a hint has.
            return bool(connection.default_channel)
    except (KombuError, OSError):
        return False
