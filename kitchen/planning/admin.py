"""The admin pages of harvest days and loads, to look things up: they are changed on their own pages."""

from __future__ import annotations

from django.contrib import admin

from kitchen.members.admin import LeadAdmin
from kitchen.planning.models import HarvestDay, LeftOut, Load, LoadPortion, PlanJob


@admin.register(HarvestDay)
class HarvestDayAdmin(LeadAdmin[HarvestDay]):
    list_display = ("date", "kitchen", "state", "version")


@admin.register(PlanJob)
class PlanJobAdmin(LeadAdmin[PlanJob]):
    kitchen_lookup = "harvest_day__kitchen"
    list_display = ("harvest_day", "state", "created_at", "published_at", "failure")
    exclude = ("plan", "day", "around")


@admin.register(Load)
class LoadAdmin(LeadAdmin[Load]):
    kitchen_lookup = "harvest_day__kitchen"
    list_display = ("lot_code", "canner", "state", "on_hold", "jars_out_at")
    list_filter = ("state", "on_hold")
    search_fields = ("lot_code",)
    exclude = ("places",)


@admin.register(LoadPortion)
class LoadPortionAdmin(LeadAdmin[LoadPortion]):
    kitchen_lookup = "load__harvest_day__kitchen"
    list_display = ("load", "batch", "jars")


@admin.register(LeftOut)
class LeftOutAdmin(LeadAdmin[LeftOut]):
    kitchen_lookup = "harvest_day__kitchen"
    list_display = ("harvest_day", "batch", "jars", "reason")
