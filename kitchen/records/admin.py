"""The admin page of signatures, to look things up: records are signed on their own page."""

from __future__ import annotations

from django.contrib import admin

from kitchen.members.admin import LeadAdmin
from kitchen.records.models import RecordSignature


@admin.register(RecordSignature)
class RecordSignatureAdmin(LeadAdmin[RecordSignature]):
    kitchen_lookup = "load__harvest_day__kitchen"
    list_display = ("load", "kind", "by", "at", "note")
    list_filter = ("kind",)
