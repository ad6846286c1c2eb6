"""The admin pages of the rota, to look things up: it is changed on its own pages."""

from __future__ import annotations

from django.contrib import admin

from kitchen.members.admin import LeadAdmin
from kitchen.rota.models import Attendance, Shift, SwapOffer


@admin.register(Attendance)
class AttendanceAdmin(LeadAdmin[Attendance]):
    kitchen_lookup = "harvest_day__kitchen"
    list_display = ("user", "harvest_day", "starts_at", "ends_at")


@admin.register(Shift)
class ShiftAdmin(LeadAdmin[Shift]):
    kitchen_lookup = "harvest_day__kitchen"
    list_display = ("user", "station", "task", "starts_at", "ends_at", "cancelled_at")
    list_filter = ("station",)


@admin.register(SwapOffer)
class SwapOfferAdmin(LeadAdmin[SwapOffer]):
    kitchen_lookup = "shift__harvest_day__kitchen"
    list_display = ("offered_by", "shift", "to", "wants", "state", "accepted_by")
    list_filter = ("state",)
