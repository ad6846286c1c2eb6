"""The admin page of measured times, which are noted and withdrawn elsewhere."""

from __future__ import annotations

from django.contrib import admin

from kitchen.learning.models import MeasuredTime
from kitchen.members.admin import LeadAdmin


@admin.register(MeasuredTime)
class MeasuredTimeAdmin(LeadAdmin[MeasuredTime]):
    list_display = (
        "kind",
        "on",
        "canner",
        "load",
        "batch",
        "usual_minutes",
        "recorded_minutes",
        "withdrawn_at",
    )
    list_filter = ("kind",)
