"""The admin pages of wishes, to look things up: they are changed on their own pages."""

from __future__ import annotations

from django.contrib import admin

from kitchen.helping.models import BusyCalendar, StationWish, Wishes
from kitchen.members.admin import LeadAdmin


@admin.register(Wishes)
class WishesAdmin(LeadAdmin[Wishes]):
    kitchen_lookup = "membership__kitchen"
    list_display = ("membership", "most_minutes", "comes_with", "learning")


@admin.register(StationWish)
class StationWishAdmin(LeadAdmin[StationWish]):
    kitchen_lookup = "membership__kitchen"
    list_display = ("membership", "station", "feeling")


@admin.register(BusyCalendar)
class BusyCalendarAdmin(LeadAdmin[BusyCalendar]):
    kitchen_lookup = "membership__kitchen"
    list_display = ("membership", "kind", "name", "read_at", "skipped", "failure")
    exclude = ("address",)  # It may be a secret.
