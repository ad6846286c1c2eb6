"""Figures for whoever watches over the kitchen, in the Prometheus text format, counted in the database when asked.

No process counts anything of its own, so it does not matter how many there are or which of them answers.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from datetime import datetime

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db.models import Count, Min, Model, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from prometheus_client.registry import Collector

from kitchen.batches.models import Batch, BatchState
from kitchen.members.models import Kitchen
from kitchen.planning.models import JobState, Load, LoadState, PlanJob
from kitchen.reminders.models import Reminder, State, SweepRun
from kitchen.reminders.queries import last_sweep_at, overdue


@login_not_required
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """The figures, to whoever shows the token, or without one to this machine alone; others find no such page."""
    if not _may_read(request):
        raise Http404
    registry = CollectorRegistry()
    registry.register(_Figures(timezone.now()))
    return HttpResponse(generate_latest(registry), content_type=CONTENT_TYPE_PLAIN_0_0_4)


def _may_read(request: HttpRequest) -> bool:
    token: str | None = settings.KITCHEN_METRICS_TOKEN
    if token is not None:
        return constant_time_compare(request.headers.get("Authorization", ""), f"Bearer {token}")
    # Behind a proxy on this machine everybody seems to come from here.
    if settings.KITCHEN_PROXIES or "X-Forwarded-For" in request.headers or "Forwarded" in request.headers:
        return False
    try:
        return ipaddress.ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:  # A socket in the file system has no address.
        return False


class _Figures(Collector):
    """The figures as they stand at one moment. Nobody's name or address is among them."""

    def __init__(self, now: datetime) -> None:
        self._now = now

    def collect(self) -> Iterable[Metric]:
        """Each figure, in the order in which one would look."""
        late = overdue(self._now)
        yield _gauge("kitchen_reminders_overdue", "Reminders that should have gone out", late.count())
        yield _gauge(
            "kitchen_reminders_oldest_overdue_seconds",
            "How late the latest of them is",
            self._since(late.aggregate(first=Min("due_at"))["first"]) or 0,
        )
        yield _by_state("kitchen_reminders", "Reminders", Reminder.objects.all(), State.values)
        yield _gauge(
            "kitchen_sweep_age_seconds",
            "Since the queue was last looked through to its end",
            self._since(last_sweep_at()),
        )
        yield _gauge(
            "kitchen_clock_steps",
            "How often a sweep found the clock moved",
            SweepRun.objects.exclude(step_seconds=0).count(),
        )
        yield _by_state("kitchen_plan_jobs", "Requests to plan a day", PlanJob.objects.all(), JobState.values)
        yield _by_state("kitchen_loads", "Loads", Load.objects.all(), LoadState.values)
        yield _by_state("kitchen_batches", "Batches", Batch.objects.all(), BatchState.values)
        yield _gauge("kitchen_kitchens", "Kitchens", Kitchen.objects.count())

    def _since(self, then: datetime | None) -> float | None:
        return None if then is None else (self._now - then).total_seconds()


def _gauge(name: str, about: str, value: float | None) -> Metric:
    """A figure. One that is not known is left out, for 0 would say that all is well."""
    family = GaugeMetricFamily(name, about)
    if value is not None:
        family.add_metric([], value)
    return family


def _by_state(name: str, about: str, rows: QuerySet[Model], states: Iterable[str]) -> Metric:
    """How many rows are in each state; also those in which there are none."""
    family = GaugeMetricFamily(name, f"{about}, by their state", labels=["state"])
    counted = dict(rows.order_by().values_list("state").annotate(many=Count("pk")))
    for state in states:
        family.add_metric([state], counted.get(state, 0))
    return family
