"""The page that says whether the kitchen can do its work, for whoever watches over it."""

from __future__ import annotations

import shutil
from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from kitchen.hints import broker_answers
from kitchen.reminders.queries import last_sweep_at, overdue

LEAST_FREE_BYTES = 500_000_000
"""Room for days of work and one backup of a middling kitchen; common practice, no source."""
MISSED_SWEEPS = 4
"""So many sweeps may be missed before it is worth a call: a restart of the worker misses one or two."""


@login_not_required
@never_cache
@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """What the kitchen stands on, each part with its state.

    503 when pages cannot be answered: no database, or a migration that waits. A worker that does not sweep,
    reminders that are late, a broker that does not answer and a disk that fills up only count as degraded: the pages
    work, and people must be able to reach them. Each part is one word, so that nothing of the inside shows.
    """
    parts = {"database": _database(), "migrations": "unknown", "sweep": "unknown", "reminders": "unknown"}
    parts |= {"queue": "ok" if broker_answers() else "unreachable", "disk": _disk()}
    if parts["database"] == "ok":
        parts["migrations"] = _migrations()
    if parts["migrations"] == "ok":
        late_before = timezone.now() - MISSED_SWEEPS * timedelta(seconds=settings.SWEEP_SECONDS)
        parts |= {"sweep": _sweep(late_before), "reminders": _reminders(late_before)}
    ready = parts["migrations"] == "ok"
    degraded = any(state != "ok" for state in parts.values())
    return JsonResponse({"ready": ready, "degraded": degraded, **parts}, status=200 if ready else 503)


def _database() -> str:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return "unreachable"
    return "ok"


def _disk() -> str:
    """Of the data folder; the database's server has a disk of its own, which only its own tools see."""
    return "ok" if shutil.disk_usage(settings.KITCHEN_DATA).free >= LEAST_FREE_BYTES else "low"


def _migrations() -> str:
    executor = MigrationExecutor(connection)
    return "waiting" if executor.migration_plan(executor.loader.graph.leaf_nodes()) else "ok"


def _sweep(late_before: datetime) -> str:
    swept = last_sweep_at()
    if swept is None:
        return "never"
    return "late" if swept < late_before else "ok"


def _reminders(late_before: datetime) -> str:
    return "late" if overdue(late_before).exists() else "ok"
