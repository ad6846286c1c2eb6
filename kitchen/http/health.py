"""The two health pages: whether the process answers, and whether it can do its work."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@login_not_required
@never_cache
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """Says that the process answers, and nothing else."""
    return HttpResponse("ok\n", content_type="text/plain")


@login_not_required
@never_cache
@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """Says what the process stands on: the database, and whether every migration has run.

    503 when it cannot work.
    """
    parts = {"database": _database(), "migrations": "unknown"}
    if parts["database"] == "ok":
        parts["migrations"] = _migrations()
    ready = all(state == "ok" for state in parts.values())
    return JsonResponse({"ready": ready, **parts}, status=200 if ready else 503)


def _database() -> str:
    try:
        connection.ensure_connection()
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return "unreachable"
    return "ok"


def _migrations() -> str:
    executor = MigrationExecutor(connection)
    return "waiting" if executor.migration_plan(executor.loader.graph.leaf_nodes()) else "ok"
