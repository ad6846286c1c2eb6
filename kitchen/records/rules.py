"""Who may sign a record, who may review it, and until when."""

from __future__ import annotations

from datetime import date, timedelta

from kitchen.errors import AlreadyDecided, BadSetting, NotAllowed, OutOfOrder
from kitchen.members.models import User
from kitchen.members.queries import leads_of
from kitchen.members.rules import Deed, can, check_may
from kitchen.records.content import Listed, Record

# A qualified person reviews the records within one working day of the process, and signs. 21 CFR 113.100(b), binding
# on commercial canneries only. That the reviewer took no part in the run is common practice, no source.
REVIEW_WITHIN_WORKING_DAYS = 1
_SATURDAY = 5


def check_may_sign(user: User, record: Record) -> None:
    """Refuse whoever wrote nothing in the record, and a record that is not finished or is signed by them already."""
    check_may(user, record.kitchen, _signing(record))
    _check_out(record)
    if user not in record.writers:
        raise NotAllowed(
            f"{user} wrote nothing in this record.", remedy="Whoever wrote in it signs what they wrote."
        )
    if user not in record.to_sign:
        raise AlreadyDecided("You have signed this record as it stands.", remedy="Nothing is left to sign.")


def can_sign(user: User, record: Record) -> bool:
    """True when ``check_may_sign`` refuses nothing."""
    return record.is_out and user in record.to_sign and can(user, record.kitchen, _signing(record))


def _signing(record: Record) -> Deed:
    """In canner time that was booked whoever wrote in the record may sign it, whatever their role."""
    return Deed.SIGN_RECORD if record.load.slot_id is None else Deed.SEE


def check_may_review(user: User, record: Record) -> None:
    """Refuse whoever is no lead, took part in the run while another lead did not, and a record that is not signed."""
    check_may(user, record.kitchen, Deed.REVIEW_RECORD)
    _check_out(record)
    if record.review is not None:
        raise AlreadyDecided(
            f"{record.review.by} has reviewed this record as it stands.", remedy="Nothing is left to review."
        )
    if record.to_sign:
        names = ", ".join(str(one) for one in record.to_sign)
        raise OutOfOrder(
            f"This record is not signed by {names}.", remedy="Whoever wrote in it signs first, on this page."
        )
    others = others_to_review(user, record)
    if took_part(user, record) and others:
        names = ", ".join(str(one) for one in others)
        raise NotAllowed(
            "Whoever took part in a run does not review its record.", remedy=f"Ask another lead: {names}."
        )


def can_review(user: User, record: Record) -> bool:
    """True when ``check_may_review`` refuses nothing."""
    try:
        check_may_review(user, record)
    except (AlreadyDecided, NotAllowed, OutOfOrder):
        return False
    return True


def took_part(user: User, record: Record) -> bool:
    """True for whoever wrote in the record, or was at the canner by the rota or by a hand-over."""
    at_canner = {shift.user_id for shift in record.watches} | {line.taken_by_id for line in record.lines}
    return user in record.writers or user.pk in at_canner


def others_to_review(user: User, record: Record) -> list[User]:
    """Other leads who took no part in the run."""
    leads = [one.user for one in leads_of(record.kitchen)]
    return [one for one in leads if one.pk != user.pk and not took_part(one, record)]


def check_told(note: str) -> None:
    """Refuse to send a record back without saying what is missing."""
    if not note:
        raise BadSetting(
            "It is not said what is missing.", remedy="Write what the operator is to add or correct."
        )


def review_due(record: Listed) -> date | None:
    """The last day for the review, on the kitchen's wall; None while the jars are not out."""
    out = record.load.jars_out_at
    if out is None:
        return None
    day = out.astimezone(record.kitchen.zone).date()
    for _ in range(REVIEW_WITHIN_WORKING_DAYS):
        day += timedelta(days=1)
        while day.weekday() >= _SATURDAY:
            day += timedelta(days=1)
    return day


def _check_out(record: Record) -> None:
    if not record.is_out:
        raise OutOfOrder(
            "The jars of this load are not recorded as out.",
            remedy="The record is signed when it is finished.",
        )
