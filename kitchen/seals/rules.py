"""When jars may be counted, what the counts must be, and until when a jar may be processed again (rule S11)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from kitchen.errors import AlreadyDecided, BadTime, JarsOnHold, TooEarly, WrongCount
from kitchen.members.models import User
from kitchen.members.rules import Deed, can, check_may
from kitchen.planning.models import Load, LoadPortion, LoadState
from kitchen.reminders.queries import first_deadline
from kitchen.reminders.rules import REPROCESS_WITHIN
from kitchen.seals.models import OfferState, ReprocessOffer

# Jars stand undisturbed for 12 to 24 hours before the test. USDA AIB 539, Cooling Jars and Testing Jar Seals.
COUNT_AFTER = timedelta(hours=12)
REFRIGERATE = "It is too late to process these jars again: put them in the refrigerator and use them soon."

VALID_OFFER_NEXT: dict[OfferState, frozenset[OfferState]] = {
    OfferState.OPEN: frozenset({OfferState.BOOKED, OfferState.DECLINED, OfferState.EXPIRED}),
    OfferState.BOOKED: frozenset(),
    OfferState.DECLINED: frozenset(),
    OfferState.EXPIRED: frozenset(),
}


def check_may_count(user: User, portion: LoadPortion) -> None:
    """Refuse a person who neither brought these jars nor runs canners here."""
    kitchen = portion.load.harvest_day.kitchen
    check_may(
        user, kitchen, Deed.COUNT_OWN_JARS if portion.batch.member_id == user.pk else Deed.COUNT_ANY_JARS
    )


def can_count(user: User, portion: LoadPortion) -> bool:
    """True when ``check_may_count`` refuses nothing."""
    own = portion.batch.member_id == user.pk
    return can(user, portion.load.harvest_day.kitchen, Deed.COUNT_OWN_JARS if own else Deed.COUNT_ANY_JARS)


def check_time_to_count(load: Load, at: datetime, now: datetime) -> None:
    """Refuse a count before the jars stood for 12 hours of elapsed time, or in the future."""
    if load.jars_out_at is None or load.state not in (LoadState.OUT, LoadState.CLOSED):
        raise BadTime("These jars are not recorded as out.", remedy="Record jars out first.")
    # No allowance for a phone's clock: two minutes ahead would be two minutes less than 12 hours.
    if at > now:
        raise BadTime("This time is still to come.", remedy="Count first, then write it down.")
    # In UTC: 12 hours by the clock on the wall may be 11 or 13.
    earliest = load.jars_out_at.astimezone(UTC) + COUNT_AFTER
    if at < earliest:
        zone = load.harvest_day.kitchen.zone
        raise TooEarly(
            "These jars have not stood for 12 hours (rule S11); pressing a lid now can break the seal.",
            remedy=f"Count them from {earliest.astimezone(zone):%a %d %b %H:%M}.",
            earliest=earliest,
        )


def check_counts(portion: LoadPortion, *, sealed: int, unsealed: int, broken: int) -> None:
    """Refuse counts below nothing, or that do not add up to the jars that went in."""
    if min(sealed, unsealed, broken) < 0:
        raise WrongCount("A count cannot be below nothing.", remedy="Count again.")
    counted = sealed + unsealed + broken
    if counted != portion.jars:
        raise WrongCount(
            f"{counted} jars are counted, and {portion.jars} went in.",
            remedy="Count sealed, unsealed and broken jars again; together they are the jars that went in.",
        )


def reprocess_deadline(load: Load) -> datetime:
    """Until when a reprocess must have started: 24 hours after the end of the first process.

    Without a recorded end the earliest that it can have been is taken: the planned end, or jars out less the
    planned cool-down, rest and unloading, whichever comes first.
    """
    if load.process_ended_at is not None:
        return load.process_ended_at.astimezone(UTC) + REPROCESS_WITHIN
    phases = {phase.kind: phase for phase in load.phases.all()}
    planned_end = phases["process"].ends_at
    last_out = max(phase.ends_at for phase in phases.values())
    ends = [planned_end]
    if load.jars_out_at is not None:
        ends.append(load.jars_out_at - (last_out - planned_end))
    return min(ends).astimezone(UTC) + REPROCESS_WITHIN


def again_by(load: Load, portion: LoadPortion) -> datetime:
    """Until when these jars of a load may be processed again (``reprocess_deadline``).

    Jars that this load was the second process of keep the deadline of their first, which has passed.
    """
    own, first = reprocess_deadline(load), first_deadline(portion)
    return own if first is None else min(own, first)


def check_offer_may_become(offer: ReprocessOffer, state: OfferState) -> None:
    """Refuse to decide an offer twice."""
    if state not in VALID_OFFER_NEXT[OfferState(offer.state)]:
        raise AlreadyDecided(
            f"This offer is {offer.get_state_display().lower()}.", remedy="Nothing is left to decide."
        )


def check_in_time(offer: ReprocessOffer, now: datetime) -> None:
    """Refuse a reprocess that could only start after the deadline (rule S11).

    Heat off may have been corrected since the offer was made: the earlier deadline counts.
    """
    if now >= min(offer.deadline, again_by(offer.portion.load, offer.portion)):
        raise BadTime("The deadline for a reprocess has passed (rule S11).", remedy=REFRIGERATE)


def check_not_held(offer: ReprocessOffer, actor: User) -> None:
    """Refuse to put jars on hold down for another process, after which they would carry a lot that is on no hold.

    A lead may, who decides about them anyway (rule S16).
    """
    load = offer.portion.load
    if load.discarded or (load.on_hold and not can(actor, load.harvest_day.kitchen, Deed.DECIDE_HOLD)):
        raise JarsOnHold(
            "These jars are on hold or were thrown out (rule S16): nobody but the kitchen's lead puts them down for "
            "another process.",
            remedy="Refrigerate the jars, and speak to the lead at once: the 24 hours go on.",
        )
