"""The admin pages of programs that are told, to look things up: they are changed on their own page."""

from __future__ import annotations

from django.contrib import admin

from kitchen.hooks.models import Hook, Telling
from kitchen.members.admin import LeadAdmin


@admin.register(Hook)
class HookAdmin(LeadAdmin[Hook]):
    kitchen_lookup = "kitchen"
    list_display = ("uuid", "kitchen", "made_by", "created_at", "ended_at")
    exclude = ("address",)  # It may be a secret.


@admin.register(Telling)
class TellingAdmin(LeadAdmin[Telling]):
    kitchen_lookup = "hook__kitchen"
    list_display = ("id", "state", "attempts", "created_at", "done_at", "last_failure")
