"""Offers that can no longer be accepted because a shift in them changed: which, why, and who hears of it.

An offer that nobody accepted before its shift began lapses by itself; nobody is written to about that.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from kitchen.audit.actions import record
from kitchen.members.models import User
from kitchen.members.queries import membership_of
from kitchen.planning.models import DayState, HarvestDay
from kitchen.rota.models import OfferState, Shift, SwapOffer
from kitchen.rota.queries import offers_of
from kitchen.rota.reminding import remind_of_shifts
from kitchen.rota.telling import hours_words, tell_lapsed


def lapse_and_tell(day: HarvestDay, *, by: User | None, at: datetime) -> None:
    """After a change: end the day's offers that no longer hold and tell those concerned, but for whoever made it.

    What is told on the evening before follows the change.
    """
    remind_of_shifts(day, at=at)
    tell_lapsed(day, lapse_offers(day, by=by, at=at), by=by, at=at)


def lapse_offers(day: HarvestDay, *, by: User | None, at: datetime) -> list[tuple[SwapOffer, str]]:
    """End the day's offers that no longer hold, each with the reason. To be called while the day is held."""
    lapsed = []
    for offer in offers_of(day).filter(state=OfferState.OPEN, shift__starts_at__gt=at):
        why = why_lapsed(offer)
        if why is None:
            continue
        offer.state, offer.decided_at = OfferState.LAPSED, at
        offer.save(update_fields=["state", "decided_at"])
        record(
            actor=by,
            kitchen=day.kitchen,
            action="offer_lapsed",
            subject=offer,
            before={"state": OfferState.OPEN},
            after={"state": OfferState.LAPSED, "why": why},
        )
        lapsed.append((offer, why))
    return lapsed


def why_lapsed(
    offer: SwapOffer, at: datetime | None = None, *, belong: Collection[int] | None = None
) -> str | None:
    """Why an offer can no longer be accepted, in a sentence; None when it can. With ``at`` also once a shift began.

    ``belong`` are the ids of those who belong to the kitchen, where they were read already.
    """
    if offer.shift.harvest_day.state == DayState.CLOSED:
        return "The day is over."
    sides = [(offer.shift, offer.offered_by, offer.shift_sequence)]
    if offer.wants is not None and offer.to is not None and offer.wants_sequence is not None:
        sides.append((offer.wants, offer.to, offer.wants_sequence))
    for shift, holder, sequence in sides:
        why = _why_changed(shift, holder, sequence)
        if why is not None:
            return why
    if offer.to is not None and not _belongs(offer.to, offer.shift.harvest_day, belong):
        return f"{offer.to} has left the kitchen."
    if at is not None and any(shift.starts_at <= at for shift, _, _ in sides):
        return "Nobody accepted it before the shift began."
    return None


def _belongs(user: User, day: HarvestDay, belong: Collection[int] | None) -> bool:
    return membership_of(user, day.kitchen) is not None if belong is None else user.pk in belong


def _why_changed(shift: Shift, holder: User, sequence: int) -> str | None:
    words = f"{shift.get_station_display()}, {hours_words(shift)}"
    if shift.cancelled_at is not None:
        return f"{holder}'s shift is no longer planned: {words}."
    if shift.user is None:
        return f"{holder} no longer has the shift; it is open: {words}."
    if shift.user != holder:
        return f"{shift.user} has {holder}'s shift now: {words}."
    if shift.sequence != sequence:
        return f"{holder}'s shift has changed since; it is now: {words}."
    return None
