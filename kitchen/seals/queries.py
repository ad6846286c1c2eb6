"""Reads of counted jars, offers and holds."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from kitchen.members.models import Kitchen, User
from kitchen.planning.models import Load, LoadPortion, LoadState
from kitchen.seals.models import OfferState, ReprocessOffer, SealCheck


def standing_check(portion: LoadPortion) -> SealCheck | None:
    """The count that stands: the newest, which nothing corrects. None before the first."""
    return SealCheck.objects.filter(portion=portion, corrected_by__isnull=True).first()


def to_count(kitchen: Kitchen) -> QuerySet[LoadPortion]:
    """Portions that are out and not yet counted, the longest out first."""
    counted = SealCheck.objects.filter(portion=OuterRef("pk"))
    waiting = LoadPortion.objects.filter(
        ~Exists(counted), load__harvest_day__kitchen=kitchen, load__state=LoadState.OUT
    )
    return waiting.select_related("load__canner", "batch__member").order_by("load__jars_out_at", "pk")


def to_count_by(user: User, kitchen: Kitchen) -> QuerySet[LoadPortion]:
    """A member's own portions that wait to be counted."""
    return to_count(kitchen).filter(batch__member=user)


def open_offers(kitchen: Kitchen) -> QuerySet[ReprocessOffer]:
    """Offers that nobody has decided, the next deadline first."""
    offers = ReprocessOffer.objects.filter(portion__load__harvest_day__kitchen=kitchen, state=OfferState.OPEN)
    return offers.select_related("portion__batch__member", "portion__load").order_by("deadline")


def overdue_offers(now: datetime) -> QuerySet[ReprocessOffer]:
    """Open offers whose deadline has passed."""
    return ReprocessOffer.objects.filter(state=OfferState.OPEN, deadline__lte=now)


def on_hold(kitchen: Kitchen) -> QuerySet[Load]:
    """Loads that wait for a lead's decision (rule S16)."""
    return Load.objects.filter(harvest_day__kitchen=kitchen, on_hold=True).select_related(
        "canner", "harvest_day"
    )


def on_shelf(kitchen: Kitchen) -> QuerySet[Load]:
    """Closed loads, what to use first on top; those on hold or thrown out are left away."""
    closed = Load.objects.filter(harvest_day__kitchen=kitchen, state=LoadState.CLOSED)
    return closed.filter(~Q(on_hold=True), discarded=False).order_by("jars_out_at", "pk")
