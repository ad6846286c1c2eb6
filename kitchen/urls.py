"""Which address leads where."""

from __future__ import annotations

from django.contrib import admin
from django.urls import include, path
from django.views.generic import RedirectView

from kitchen.http.health import healthz
from kitchen.http.icon import favicon
from kitchen.metrics import metrics
from kitchen.readiness import readyz

handler400 = "kitchen.api.base.unreadable.unreadable"

urlpatterns = [
    path("healthz", healthz),
    path("readyz", readyz),
    path("metrics", metrics),
    path("favicon.ico", favicon),
    path("", include("kitchen.members.urls")),
    path("", include("kitchen.entrance.urls")),
    path("", include("kitchen.equipment.urls")),
    path("", include("kitchen.batches.urls")),
    path("", include("kitchen.home.urls")),
    path("", include("kitchen.harvest.urls")),
    path("", include("kitchen.reminders.urls")),
    path("", include("kitchen.rota.urls")),
    path("", include("kitchen.floor.urls")),
    path("", include("kitchen.helping.urls")),
    path("", include("kitchen.learning.urls")),
    path("", include("kitchen.booking.urls")),
    path("", include("kitchen.seals.urls")),
    path("", include("kitchen.labels.urls")),
    path("", include("kitchen.records.urls")),
    path("", include("kitchen.reprocess.urls")),
    path("", include("kitchen.season.urls")),
    path("", include("kitchen.calendars.urls")),
    path("", include("kitchen.hooks.urls")),
    path("", include("kitchen.export.urls")),
    path("", include("kitchen.api.urls")),
    # Django's own page for it would write past the action, its line and its message.
    path("admin/password_change/", RedirectView.as_view(pattern_name="members:change-password")),
    path("admin/", admin.site.urls),
]
