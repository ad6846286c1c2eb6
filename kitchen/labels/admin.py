"""The admin pages of the shelf, to look things up: jars are moved on their own page."""

from __future__ import annotations

from django.contrib import admin

from kitchen.labels.models import Reprocess, ShelfMove
from kitchen.members.admin import LeadAdmin


@admin.register(ShelfMove)
class ShelfMoveAdmin(LeadAdmin[ShelfMove]):
    kitchen_lookup = "portion__load__harvest_day__kitchen"
    list_display = ("portion", "kind", "jars", "note", "recorded_by", "at")


@admin.register(Reprocess)
class ReprocessAdmin(LeadAdmin[Reprocess]):
    kitchen_lookup = "portion__load__harvest_day__kitchen"
    list_display = ("offer", "portion", "recorded_by", "recorded_at")
