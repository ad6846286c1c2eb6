"""The admin page of the process record, which is only ever appended to, and not here."""

from __future__ import annotations

from django.contrib import admin

from kitchen.floor.models import RunEvent
from kitchen.members.admin import LeadAdmin


@admin.register(RunEvent)
class RunEventAdmin(LeadAdmin[RunEvent]):
    kitchen_lookup = "load__harvest_day__kitchen"
    list_display = ("load", "kind", "at", "recorded_by", "taken_by", "corrects", "withdraws")
    list_filter = ("kind",)
