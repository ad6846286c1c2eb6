"""Offering a shift to others, taking the offer back, and accepting one: then both shifts change hands at once."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.errors import AlreadyDecided, BadMembership, NotAllowed, ShiftTaken
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may
from kitchen.rota.bridge import check_may_swap
from kitchen.rota.changing import fresh, hold_day, hold_people, pass_on
from kitchen.rota.lapsing import lapse_and_tell, why_lapsed
from kitchen.rota.models import OfferState, Shift, SwapOffer
from kitchen.rota.queries import standing_offers
from kitchen.rota.rules import check_not_begun, check_on_harvest_day
from kitchen.rota.telling import tell_accepted, tell_offered, tell_withdrawn

_AGAIN = "Look at the rota again."


@transaction.atomic
def offer_swap(
    *,
    shift: Shift,
    actor: User,
    to: User | None = None,
    wants: Shift | None = None,
    at: datetime | None = None,
) -> SwapOffer:
    """Offer one's shift to anybody, or to one person; for nothing, or for the shift of theirs that is ``wants``.

    Until somebody accepts it the shift is one's own. Refused already now: a person who may not take it.
    """
    at = at or timezone.now()
    day = shift.harvest_day
    check_may(actor, day.kitchen, Deed.JOIN_ROTA)
    hold_day(day)
    shift, wants = fresh(shift), fresh(wants) if wants is not None else None
    to = to or (wants.user if wants is not None else None)
    _check_offer(shift, wants, actor, to, at)
    if standing_offers(day, at).filter(shift=shift).exists():
        raise AlreadyDecided("You offer this shift already.", remedy="Take that offer back first.")
    SwapOffer.objects.filter(shift=shift, state=OfferState.OPEN).update(
        state=OfferState.LAPSED, decided_at=at
    )
    offer = SwapOffer.objects.create(
        shift=shift,
        shift_sequence=shift.sequence,
        offered_by=actor,
        to=to,
        wants=wants,
        wants_sequence=None if wants is None else wants.sequence,
        created_at=at,
    )
    record(
        actor=actor,
        kitchen=day.kitchen,
        action="offer_swap",
        subject=offer,
        after=snapshot(offer, "shift", "to", "wants"),
    )
    tell_offered(offer, at=at)
    return offer


@transaction.atomic
def withdraw_offer(*, offer: SwapOffer, actor: User, at: datetime | None = None) -> SwapOffer:
    """Take one's offer back before anybody accepts it."""
    at = at or timezone.now()
    hold_day(offer.shift.harvest_day)
    if actor.pk != offer.offered_by_id:
        raise NotAllowed("This is another person's offer.", remedy="Ask them to take it back.")
    offer = _decide(offer, OfferState.WITHDRAWN, None, actor, at)
    tell_withdrawn(offer, at=at)
    return offer


@transaction.atomic
def accept_offer(*, offer: SwapOffer, actor: User, at: datetime | None = None) -> SwapOffer:
    """Accept an offer: the shift becomes one's own, and the one asked for in return the other's.

    Both are checked as if each person took the other's shift. ``ShiftTaken`` when somebody was faster.
    """
    at = at or timezone.now()
    day = offer.shift.harvest_day
    check_may(actor, day.kitchen, Deed.JOIN_ROTA)
    if actor.pk == offer.offered_by_id or offer.to_id not in (None, actor.pk):
        raise NotAllowed("This offer is not for you.", remedy="Choose another one.")
    hold_day(day)
    hold_people(actor, offer.offered_by)
    shift = fresh(offer.shift)
    wants = None if offer.wants is None else fresh(offer.wants)
    offer = _decide(offer, OfferState.ACCEPTED, actor, actor, at)
    if not _still_as_offered(offer, shift, wants):
        raise ShiftTaken("This offer lapsed: a shift in it has changed.", remedy=_AGAIN)
    for one in (shift, wants):
        if one is not None:
            check_not_begun(one, at)
    check_may_swap(shift, wants, offer.offered_by, actor, at=at)
    if wants is not None:
        offer.wants = pass_on(wants, offer.offered_by, action="swap_shift", actor=actor, at=at)
    offer.shift = pass_on(shift, actor, action="swap_shift", actor=actor, at=at)
    tell_accepted(offer, by=actor, at=at)
    lapse_and_tell(day, by=actor, at=at)
    return offer


def _check_offer(shift: Shift, wants: Shift | None, actor: User, to: User | None, at: datetime) -> None:
    if shift.user_id != actor.pk:
        raise NotAllowed("This is not your shift.", remedy="Offer one of your own.")
    check_on_harvest_day(shift)
    check_not_begun(shift, at)
    if to == actor:
        raise BadMembership(
            "You cannot offer a shift to yourself.", remedy="Choose another person, or anybody."
        )
    if wants is not None:
        if wants.harvest_day_id != shift.harvest_day_id or wants.user is None or wants.user != to:
            raise BadMembership(
                "The shift asked for in return is not that person's on this day.",
                remedy="Choose one of theirs, or ask for nothing.",
            )
        check_not_begun(wants, at)
    if to is not None:
        check_may_swap(shift, wants, actor, to, at=at)


def _decide(
    offer: SwapOffer, state: OfferState, accepted_by: User | None, actor: User, at: datetime
) -> SwapOffer:
    """Settle an open offer, once: whoever comes second hears what became of it."""
    still_open = SwapOffer.objects.filter(pk=offer.pk, state=OfferState.OPEN)
    won = still_open.update(state=state, accepted_by=accepted_by, decided_at=at)
    found = SwapOffer.objects.select_related(
        "offered_by", "to", "accepted_by", "shift__harvest_day__kitchen", "wants__harvest_day__kitchen"
    ).get(pk=offer.pk)
    if not won:
        raise _settled(found)
    record(
        actor=actor,
        kitchen=found.shift.harvest_day.kitchen,
        action="decide_offer",
        subject=found,
        before={"state": OfferState.OPEN},
        after=snapshot(found, "state", "accepted_by"),
    )
    return found


def _settled(offer: SwapOffer) -> ShiftTaken:
    if offer.state == OfferState.ACCEPTED:
        return ShiftTaken(f"{offer.accepted_by} accepted this offer a moment ago.", remedy=_AGAIN)
    if offer.state == OfferState.WITHDRAWN:
        return ShiftTaken(f"{offer.offered_by} took this offer back.", remedy=_AGAIN)
    return ShiftTaken(f"This offer has lapsed. {why_lapsed(offer) or ''}".rstrip(), remedy=_AGAIN)


def _still_as_offered(offer: SwapOffer, shift: Shift, wants: Shift | None) -> bool:
    as_was = shift.user_id == offer.offered_by_id and shift.sequence == offer.shift_sequence
    return as_was and (
        wants is None or (wants.user_id == offer.to_id and wants.sequence == offer.wants_sequence)
    )
