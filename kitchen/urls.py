"""Which address leads where."""

from __future__ import annotations

from django.contrib import admin
from django.urls import path

from kitchen.http.health import healthz, readyz
from kitchen.http.icon import favicon

urlpatterns = [
    path("healthz", healthz),
    path("readyz", readyz),
    path("favicon.ico", favicon),
    path("admin/", admin.site.urls),
]
