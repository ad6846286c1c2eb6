"""The admin pages of intake and slots, to look things up: they are changed on their own pages."""

from __future__ import annotations

from django.contrib import admin

from kitchen.batches.models import Batch, Slot
from kitchen.members.admin import LeadAdmin


@admin.register(Batch)
class BatchAdmin(LeadAdmin[Batch]):
    list_display = ("food_name", "member", "jars", "jar", "harvest_day", "state")
    list_filter = ("state",)
    search_fields = ("food_name", "member__display_name")


@admin.register(Slot)
class SlotAdmin(LeadAdmin[Slot]):
    list_display = ("member", "canner_time", "state")
    list_filter = ("state",)
