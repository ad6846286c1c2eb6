"""Which jars get a shelf label, until when they are at their best, and what may be noted of them (rule S16)."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from kitchen.errors import (
    AlreadyDecided,
    BadTime,
    JarsOnHold,
    KitchenError,
    NotReadyForLabel,
    WrongCount,
    WrongReprocess,
)
from kitchen.floor.queries import standing_events
from kitchen.floor.rules import BEGINNINGS
from kitchen.labels.models import MoveKind, Reprocess
from kitchen.labels.queries import Lot, may_be_again
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, can, check_may
from kitchen.planning.models import Load
from kitchen.seals.models import OfferState, ReprocessOffer
from kitchen.seals.rules import again_by

# A phone's clock may run ahead of the server's by so much.
CLOCK_TOLERANCE = timedelta(minutes=2)


def best_by(processed_on: date, months: int) -> date:
    """So many months later, on the same day of the month or the last one there is; never in the month after."""
    year, month = divmod(processed_on.year * 12 + processed_on.month - 1 + months, 12)
    month += 1
    return date(year, month, min(processed_on.day, monthrange(year, month)[1]))


def seen_by(user: User, kitchen: Kitchen, lots: Sequence[Lot]) -> list[Lot]:
    """Those of a kitchen's lots that the person may see: their own, and those of others for whoever may trace them."""
    return _allowed(user, kitchen, lots, own=Deed.SEE, others=Deed.TRACE_ANY_LOT)


def labelled_by(user: User, kitchen: Kitchen, lots: Sequence[Lot]) -> list[Lot]:
    """Those of a kitchen's lots for which the person may print labels."""
    return _allowed(user, kitchen, lots, own=Deed.LABEL_OWN_JARS, others=Deed.LABEL_ANY_JARS)


def check_may_move(user: User, lot: Lot) -> None:
    """Refuse a person who neither brought these jars nor may hand out those of others."""
    check_may(user, lot.kitchen, Deed.MOVE_OWN_JARS if _own(user, lot) else Deed.MOVE_ANY_JARS)


def check_fit_for_shelf(lot: Lot) -> None:
    """Refuse jars that get no shelf label: not out, on hold, thrown out, not counted, or none of them sealed.

    ``JarsOnHold`` for what a lead decides, ``NotReadyForLabel`` for the rest.
    """
    if not lot.is_out:
        raise NotReadyForLabel(
            "These jars are not recorded as out of the canner.",
            remedy="When they are out, the operator records it on the run sheet; 12 hours later their seals "
            "are checked.",
        )
    if lot.load.discarded:
        raise JarsOnHold(
            "A lead has had these jars thrown out.", remedy="Do not use them; none of them gets a label."
        )
    if lot.load.on_hold:
        raise JarsOnHold(
            f"These jars are on hold (rule S16). {lot.load.deviation}",
            remedy="Do not use, hand out or label them before the kitchen's lead has decided, with a reason.",
        )
    if lot.sealed is None:
        raise NotReadyForLabel(
            "The seals of these jars are not checked yet.",
            remedy="12 to 24 hours after the jars came out, take off the bands, test each lid and write down "
            "what you found.",
        )
    if not lot.sealed:
        raise NotReadyForLabel(
            "None of these jars was found sealed.",
            remedy="Refrigerate and use them, or process them again within 24 hours; after that they carry "
            "the lot code of the new process.",
        )


def why_no_label(lot: Lot) -> KitchenError | None:
    """What ``check_fit_for_shelf`` refuses, or None."""
    try:
        check_fit_for_shelf(lot)
    except (JarsOnHold, NotReadyForLabel) as refusal:
        return refusal.with_traceback(None)  # Else what was called would stay with it.
    return None


def check_move(lot: Lot, kind: MoveKind, jars: int, note: str, at: datetime, now: datetime) -> None:
    """Refuse to move jars that are not fit for the shelf, or not there, or at a time that cannot be."""
    check_fit_for_shelf(lot)
    if jars < 1:
        raise WrongCount("No jar is moved.", remedy="Say how many jars, from 1.")
    if kind is MoveKind.PUT_BACK and jars > lot.taken:
        raise WrongCount(
            f"{jars} jars cannot come back: {lot.taken} were taken.", remedy="Look at where the jars went."
        )
    if kind is not MoveKind.PUT_BACK and jars > lot.on_hand:
        raise WrongCount(
            f"{jars} jars cannot be taken: {lot.on_hand} of lot {lot.code} are on hand.",
            remedy="Count the jars on the shelf. If a line before is wrong, put jars back first.",
        )
    if kind is MoveKind.GIVEN and not note:
        raise WrongCount(
            "It is not said to whom the jars went.",
            remedy="Write the name, so that they can be called back if something is found wrong.",
        )
    out = lot.load.jars_out_at
    if at > now + CLOCK_TOLERANCE or (out is not None and at < out):
        raise BadTime(
            "The jars cannot have left the shelf then.", remedy="Give a time between jars out and now."
        )


def check_reprocess(lot: Lot, offer: ReprocessOffer | None, again: Lot) -> ReprocessOffer:
    """The offer whose jars were processed again as another portion; refused where that cannot be."""
    if offer is None or offer.state != OfferState.BOOKED:
        raise WrongReprocess(
            f"Nobody agreed that jars of lot {lot.code} are processed again.",
            remedy="Take up the offer on the seal check's page while it stands; afterwards refrigerate and use.",
        )
    if Reprocess.objects.filter(offer=offer).exists():
        raise AlreadyDecided(
            f"It is noted as what the jars of lot {lot.code} were processed again.",
            remedy="Records are only ever added to; speak to the kitchen's lead if it is wrong.",
        )
    if again.portion.pk not in {one.portion.pk for one in may_be_again(lot)}:
        raise WrongReprocess(
            f"Lot {again.code} cannot be these jars processed again.",
            remedy="Choose a lot of the same member, food, pack and jar that came out later.",
        )
    if again.portion.jars > offer.jars:
        raise WrongReprocess(
            f"Lot {again.code} holds {again.portion.jars} jars, and {offer.jars} were to be processed again.",
            remedy="Declare jars to be processed again as a batch of their own.",
        )
    return offer


def why_late(lot: Lot, again: Load) -> str:
    """Rule S11: why a load is too late as the second process of a lot's jars, by its record; empty when it is not."""
    began = [event.at for event in standing_events(again) if event.kind in BEGINNINGS]
    if not began:
        return f"No start is recorded of the second process of jars of lot {lot.code} (rule S11)."
    over = max(began) - again_by(lot.load, lot.portion)
    if over < timedelta():
        return ""
    return (
        f"Jars of lot {lot.code} were processed again {over // timedelta(minutes=1)} min too late (rule S11)."
    )


def _own(user: User, lot: Lot) -> bool:
    return lot.portion.batch.member_id == user.pk


def _allowed(user: User, kitchen: Kitchen, lots: Sequence[Lot], *, own: Deed, others: Deed) -> list[Lot]:
    """Asked once, however many lots there are."""
    if can(user, kitchen, others):
        return list(lots)
    return [lot for lot in lots if _own(user, lot)] if can(user, kitchen, own) else []
