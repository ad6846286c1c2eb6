"""What the start page shows of the kitchen rather than of oneself, written once while it is the same."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.safestring import SafeString

from kitchen.booking.forms import WantedForm
from kitchen.language.pieces import kept_forms, kept_piece
from kitchen.members.models import Kitchen
from kitchen.planning.models import HarvestDay


def days_piece(kitchen: Kitchen, days: Sequence[HarvestDay], *, leads: bool) -> SafeString:
    """The harvest days, and where else one goes from here."""
    facts = [(day.uuid, day.date, day.state, day.opens_at, day.closes_at) for day in days]
    shown = {"kitchen": kitchen, "days": days, "leads": leads}
    return kept_piece("home/days.html", (kitchen.slug, facts, leads), lambda: shown, kitchen.zone)


def book_piece(secret: str, kitchen: Kitchen, today: date) -> SafeString:
    """The short form that books canner time. ``secret`` is that of the reader's forms."""

    def shown() -> dict[str, object]:
        return {"kitchen": kitchen, "book": WantedForm(None, kitchen=kitchen, today=today)}

    facts = (kitchen.slug, kitchen.most_in_group, today)
    return kept_forms(secret, "booking/quick.html", facts, shown, kitchen.zone)


def running_piece(kitchen: Kitchen, booked: Sequence[HarvestDay], *, leads: bool) -> SafeString:
    """Where the kitchen is run from, and the days with booked canner time."""
    facts = [(day.uuid, day.date, day.opens_at, day.closes_at) for day in booked]
    shown = {"kitchen": kitchen, "booked": booked, "leads": leads}
    return kept_piece("home/running.html", (kitchen.slug, facts, leads), lambda: shown, kitchen.zone)
