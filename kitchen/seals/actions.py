"""Counting seals, deciding about jars that did not seal, and about jars on hold."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.batches.actions import set_batch_state
from kitchen.batches.models import Batch, BatchState
from kitchen.errors import AlreadyDecided, BadSetting
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.loads import end_hold, locked_load, move_load, note_used_up
from kitchen.planning.models import Load, LoadPortion, LoadState
from kitchen.reminders.actions import cancel_for_portion
from kitchen.reminders.planned import forget_deadline, remind_of_deadline
from kitchen.reminders.rules import DUE_AFTER
from kitchen.seals.models import HoldDecision, HoldOutcome, OfferState, ReprocessOffer, SealCheck
from kitchen.seals.queries import overdue_offers, standing_check
from kitchen.seals.rules import (
    REFRIGERATE,
    again_by,
    check_counts,
    check_in_time,
    check_may_count,
    check_not_held,
    check_offer_may_become,
    check_time_to_count,
)
from kitchen.seals.signals import jars_discarded


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """A count, the offer that came of unsealed jars, if any, and what to tell the member about them."""

    check: SealCheck
    offer: ReprocessOffer | None
    advice: str


@transaction.atomic
def record_seal_check(
    *,
    portion: LoadPortion,
    sealed: int,
    unsealed: int,
    broken: int,
    by: User,
    at: datetime | None = None,
    correct: bool = False,
    now: datetime | None = None,
) -> Counted:
    """Count one portion's jars. When all portions of the load are counted, it is closed.

    ``at`` is when it was counted. A miscount is put right with ``correct``: a further row that names the old
    one. Refused: before 12 hours (rule S11), counts that do not add up, a second count that is no correction.
    """
    now = now or timezone.now()
    at = at or now
    load = locked_load(portion.load_id)
    check_may_count(by, portion)
    check_time_to_count(load, at, now)
    check_counts(portion, sealed=sealed, unsealed=unsealed, broken=broken)
    before = standing_check(portion)
    _check_first_or_correction(before, correct)
    check = SealCheck.objects.create(
        portion=portion,
        sealed=sealed,
        unsealed=unsealed,
        broken=broken,
        checked_by=by,
        checked_at=at,
        recorded_at=now,
        corrects=before,
    )
    record(
        actor=by,
        kitchen=load.harvest_day.kitchen,
        action="record_seal_check",
        subject=check,
        before=snapshot(before, "sealed", "unsealed", "broken") if before else None,
        after=snapshot(check, "portion", "sealed", "unsealed", "broken", "checked_at"),
    )
    note_used_up(load, used_up=False)  # There may be more than was thought.
    cancel_for_portion(portion=portion, now=now, kinds=tuple(DUE_AFTER))
    offer = _offer(portion, load, unsealed, by, now)
    _close_when_counted(load, by, now)
    return Counted(check=check, offer=offer, advice=_advice(load, offer, unsealed))


@transaction.atomic
def decide_offer(
    *, offer: ReprocessOffer, accept: bool, actor: User, now: datetime | None = None
) -> ReprocessOffer:
    """Take an offer up or decline it. Refused after the deadline (rule S11), for jars on hold but by a lead (S16)."""
    now = now or timezone.now()
    check_may_count(actor, offer.portion)
    offer = _locked_offer(offer)
    state = OfferState.BOOKED if accept else OfferState.DECLINED
    check_offer_may_become(offer, state)
    if accept:
        check_in_time(offer, now)
        check_not_held(offer, actor)
    return _set_offer(offer, state, actor, now)


def expire_offers(*, now: datetime | None = None) -> int:
    """Note that the deadline of open offers has passed; how many they were."""
    now = now or timezone.now()
    expired = 0
    for offer_id in list(overdue_offers(now).values_list("pk", flat=True)):
        with transaction.atomic():
            offer = ReprocessOffer.objects.select_for_update(of=("self",)).get(pk=offer_id)
            if offer.state == OfferState.OPEN:
                _set_offer(offer, OfferState.EXPIRED, None, now)
                expired += 1
    return expired


@transaction.atomic
def decide_hold(
    *, load: Load, outcome: HoldOutcome, by: User, reason: str, at: datetime | None = None
) -> HoldDecision:
    """Rule S16: a lead releases jars on hold, or has them thrown out, and says why."""
    check_may(by, load.harvest_day.kitchen, Deed.DECIDE_HOLD)
    if not reason.strip():
        raise BadSetting("No reason is given.", remedy="Say why the jars are safe, or why they go.")
    at = at or timezone.now()
    load = locked_load(load.pk)
    if not load.on_hold:
        raise AlreadyDecided(f"Load {load} is not on hold.", remedy="Nothing is left to decide.")
    decision = HoldDecision.objects.create(
        load=load, outcome=outcome, reason=reason.strip(), decided_by=by, decided_at=at
    )
    record(
        actor=by,
        kitchen=load.harvest_day.kitchen,
        action="decide_hold",
        subject=decision,
        after=snapshot(decision, "load", "outcome", "reason"),
    )
    discarded = outcome == HoldOutcome.DISCARDED
    end_hold(load=load, discarded=discarded, actor=by)
    if discarded:
        _forget(load, by, at)
        jars_discarded.send(sender=Load, load=load, actor=by, at=at)
    return decision


def _check_first_or_correction(before: SealCheck | None, correct: bool) -> None:
    if before is not None and not correct:
        raise AlreadyDecided(
            f"These jars are counted: {before.sealed} sealed, {before.unsealed} unsealed, {before.broken} broken.",
            remedy="If that is wrong, correct it.",
        )
    if before is None and correct:
        raise AlreadyDecided(
            "These jars are not counted yet.", remedy="Count them; there is nothing to correct."
        )


def _offer(portion: LoadPortion, load: Load, unsealed: int, by: User, now: datetime) -> ReprocessOffer | None:
    """An open offer for the unsealed jars while there is time; a correction changes or ends one not yet
    decided.
    """
    deadline = again_by(load, portion)
    standing = ReprocessOffer.objects.select_for_update().filter(portion=portion).first()
    if standing is not None and standing.state != OfferState.OPEN:
        return standing
    if standing is not None and not unsealed:
        return _set_offer(standing, OfferState.DECLINED, by, now)
    if not unsealed or load.discarded or now >= deadline:
        return standing
    offer = standing or ReprocessOffer(portion=portion, offered_at=now)
    offer.jars, offer.deadline = unsealed, deadline
    offer.save()
    record(
        actor=by,
        kitchen=load.harvest_day.kitchen,
        action="offer_reprocess",
        subject=offer,
        after=snapshot(offer, "portion", "jars", "deadline"),
    )
    remind_of_deadline(portion=portion, jars=unsealed, deadline=deadline, now=now)
    return offer


def _advice(load: Load, offer: ReprocessOffer | None, unsealed: int) -> str:
    if not unsealed:
        return ""
    if offer is None or offer.state != OfferState.OPEN:
        return REFRIGERATE
    deadline = offer.deadline.astimezone(load.harvest_day.kitchen.zone)
    return (
        f"Process these jars again in full, with new lids, started before {deadline:%a %d %b %H:%M}; "
        "or put them in the refrigerator and use them soon."
    )


def _close_when_counted(load: Load, by: User, now: datetime) -> None:
    if load.state != LoadState.OUT or load.portions.filter(seal_checks__isnull=True).exists():
        return
    move_load(load=load, state=LoadState.CLOSED, at=now, actor=by)
    open_states = (LoadState.PLANNED, LoadState.RUNNING, LoadState.OUT)
    for batch in Batch.objects.filter(portions__load=load, state=BatchState.PLANNED).distinct():
        if not batch.portions.filter(load__state__in=open_states).exists():
            set_batch_state(batch=batch, state=BatchState.DONE, actor=by)


def _forget(load: Load, by: User, at: datetime) -> None:
    """Jars that were thrown out need no reminder and get no reprocess."""
    for portion in load.portions.all():
        cancel_for_portion(portion=portion, now=at)
        offer = ReprocessOffer.objects.filter(portion=portion, state=OfferState.OPEN).first()
        if offer is not None:
            _set_offer(offer, OfferState.DECLINED, by, at)


def _locked_offer(offer: ReprocessOffer) -> ReprocessOffer:
    offers = ReprocessOffer.objects.select_for_update(of=("self",))
    return offers.select_related("portion__load__harvest_day__kitchen").get(pk=offer.pk)


def _set_offer(offer: ReprocessOffer, state: OfferState, actor: User | None, now: datetime) -> ReprocessOffer:
    before = snapshot(offer, "state")
    offer.state, offer.decided_at = state, now
    offer.save(update_fields=["state", "decided_at"])
    record(
        actor=actor,
        kitchen=offer.portion.load.harvest_day.kitchen,
        action="decide_offer",
        subject=offer,
        before=before,
        after=snapshot(offer, "state"),
    )
    if state != OfferState.BOOKED:
        forget_deadline(portion=offer.portion, now=now)
    return offer
