"""A person's shifts of a day, those they could take and the offers, written once while they are as they are."""

from __future__ import annotations

from datetime import datetime

from django.utils.safestring import SafeString

from kitchen.language.pieces import kept_piece
from kitchen.planning.models import HarvestDay
from kitchen.rota.models import Shift
from kitchen.rota.pages import Lapsed, MyDay, MyShift, Takeable

_When = tuple[datetime, datetime, str]


def my_day_piece(day: HarvestDay, mine: MyDay, *, open_still: bool) -> SafeString:
    """All of the page but the hours one gave; ``open_still`` while the day is not closed.

    What is pressed in it goes through the page's form "answer".
    """
    told = (mine.offers, mine.shifts, mine.lapsed, mine.wanted)
    facts = [[_facts(one) for one in some] for some in told]
    shown = {
        "kitchen": day.kitchen,
        "open": open_still,
        "mine": mine.shifts,
        "wanted": mine.wanted,
        "offers": mine.offers,
        "lapsed": mine.lapsed,
    }
    zone = day.kitchen.zone
    return kept_piece("rota/my_day.html", (day.kitchen.slug, open_still, facts), lambda: shown, zone)


def _facts(told: MyShift | Takeable | Lapsed) -> tuple[object, ...]:
    """Everything that the piece shows of a shift and of the offer of it."""
    shift, offer = told.shift, told.offer
    load = shift.load and (shift.load.canner.name, shift.load.number)
    offered = offer and (
        offer.uuid,
        str(offer.offered_by),
        offer.to and str(offer.to),
        offer.wants and _when(offer.wants),
    )
    return (shift.uuid, _when(shift), shift.task, load, offered, _own(told))


def _when(shift: Shift) -> _When:
    return shift.starts_at, shift.ends_at, shift.station


def _own(told: MyShift | Takeable | Lapsed) -> object:
    if isinstance(told, MyShift):
        return told.begun
    if isinstance(told, Takeable):
        return told.why_not and told.why_not.message
    return told.own, told.why
