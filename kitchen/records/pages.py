"""What the pages of records show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from kitchen.language.pieces import kept_piece
from kitchen.members.models import Kitchen, User
from kitchen.records.content import Listed, Record
from kitchen.records.rules import can_review, can_sign, review_due
from kitchen.records.sheet import Section


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A record on a list: how far it is in words, and until when it is to be reviewed.

    ``waits`` is off for one that is reviewed or not finished; ``late`` is on once the day is over.
    """

    record: Listed
    state: str
    due: date | None
    waits: bool
    late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Presses:
    """What this person may press under a record."""

    sign: bool
    review: bool


def lines_of(records: Iterable[Listed], today: date) -> list[Line]:
    """Records as lines of a list."""
    return [_line(record, today) for record in records]


def lines_piece(kitchen: Kitchen, lines: Sequence[Line]) -> SafeString:
    """The lines as they are listed, written once while they are as they are."""
    facts = [
        (
            one.record.load.uuid,
            one.record.load.lot_code,
            one.record.load.canner.name,
            one.record.load.jars_out_at,
            one.state,
            one.due,
            one.waits,
            one.late,
        )
        for one in lines
    ]
    shown = {"kitchen": kitchen, "lines": lines}
    return kept_piece("records/lines.html", (kitchen.slug, facts), lambda: shown, kitchen.zone)


def sections_piece(kitchen: Kitchen, sections: Sequence[Section]) -> SafeString:
    """The record as it is read, written once while every entry is as it is."""
    return kept_piece("records/sections.html", sections, lambda: {"sections": sections}, kitchen.zone)


def presses_of(record: Record, user: User) -> Presses:
    """What this person may press."""
    return Presses(sign=can_sign(user, record), review=can_review(user, record))


def state_of(record: Listed) -> str:
    """How far a record is, in words."""
    if not record.is_out:
        return _("The run is not finished: the jars are not out.")
    if record.review is not None:
        return _("Reviewed by %(who)s.") % {"who": record.review.by}
    names = ", ".join(str(one) for one in record.to_sign)
    if record.to_sign and record.sent_back is not None:
        return _("Sent back: to be signed again by %(names)s.") % {"names": names}
    if record.to_sign and record.changed_since_signed:
        return _("Changed since it was signed: to be signed again by %(names)s.") % {"names": names}
    if record.to_sign:
        return _("To be signed by %(names)s.") % {"names": names}
    return _("To be reviewed by a lead.")


def _line(record: Listed, today: date) -> Line:
    due, waits = review_due(record), record.is_out and record.review is None
    return Line(
        record=record,
        state=state_of(record),
        due=due,
        waits=waits,
        late=waits and due is not None and due < today,
    )
