"""The admin pages of counts, offers and holds, to look things up: they are decided on their own pages."""

from __future__ import annotations

from django.contrib import admin

from kitchen.members.admin import LeadAdmin
from kitchen.seals.models import HoldDecision, ReprocessOffer, SealCheck


@admin.register(SealCheck)
class SealCheckAdmin(LeadAdmin[SealCheck]):
    kitchen_lookup = "portion__load__harvest_day__kitchen"
    list_display = ("portion", "sealed", "unsealed", "broken", "checked_by", "checked_at")


@admin.register(ReprocessOffer)
class ReprocessOfferAdmin(LeadAdmin[ReprocessOffer]):
    kitchen_lookup = "portion__load__harvest_day__kitchen"
    list_display = ("portion", "jars", "deadline", "state")


@admin.register(HoldDecision)
class HoldDecisionAdmin(LeadAdmin[HoldDecision]):
    kitchen_lookup = "load__harvest_day__kitchen"
    list_display = ("load", "outcome", "reason", "decided_by", "decided_at")
