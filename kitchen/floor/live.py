"""The live pages: the cards of some canners with the load at hand, and for one canner alone all its sheets."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from kitchen.equipment.models import Canner
from kitchen.floor.bridge import CAUTION
from kitchen.floor.card_piece import written_cards
from kitchen.floor.pages import CannerPage, canner_pages, fate_of, milliseconds
from kitchen.floor.running import booked_loads_of, is_trained
from kitchen.floor.sheet_piece import written_sheets
from kitchen.language.person import Units, units_in_use
from kitchen.members.models import Kitchen
from kitchen.members.pages import person
from kitchen.members.rules import Deed, can
from kitchen.planning.models import HarvestDay

# Without scripts the page loads itself anew so often, and when a wait ends.
_REFRESH_SECONDS = 60


def live(
    request: HttpRequest, here: Kitchen, day: HarvestDay, canners: Iterable[Canner], template: str
) -> HttpResponse:
    """A page of cards; with ``?live`` only their state and the server's time, for a page that looks again."""
    me, now, bare = person(request), timezone.now(), "live" in request.GET
    whole = template == "floor/run_sheet.html"
    with_sheets = whole and not bare
    runs = can(me, here, Deed.RUN_LOAD)
    # What somebody cans in time of their own is theirs and the operators' to see.
    theirs = None if runs or day.is_harvest else booked_loads_of(me, day)
    pages = canner_pages(
        day,
        canners,
        now,
        chosen=request.GET.get("load", ""),
        with_sheets=with_sheets,
        only=theirs,
    )
    runs = runs or (theirs is not None and bool(theirs) and is_trained(me, day))
    leads, in_celsius = can(me, here, Deed.DECIDE_HOLD), units_in_use() is Units.METRIC
    rights = {"runs": runs, "leads": leads, "in_celsius": in_celsius, "whole": whole}
    sheets = [
        sheet
        for page in (pages if with_sheets else ())
        for sheet in written_sheets(request, here, page, caution=CAUTION, runs=runs, leads=leads)
    ]
    context = {
        "kitchen": here,
        "day": day,
        "pages": pages,
        "cards": [] if bare else written_cards(request, day, pages, me, **rights),
        "sheets": sheets,
        "state": "-".join(str(page.state) for page in pages),
        "bare": bare,
        **rights,
        "now": now,
        "now_ms": milliseconds(now),
        "refresh": _refresh_seconds(pages, now),
        "fate": fate_of(day, request.GET),
        "caution": CAUTION,
    }
    return render(request, "floor/live.html" if bare else template, context)


def _refresh_seconds(pages: Iterable[CannerPage], now: datetime) -> int:
    """When a page without scripts loads itself anew: as soon as a wait is over, at the latest in a minute."""
    waits = [page.card.wait for page in pages if page.card and page.card.wait and not page.card.is_due]
    left = [(wait.until - now) // timedelta(seconds=1) + 1 for wait in waits]
    return min([_REFRESH_SECONDS, *left])
