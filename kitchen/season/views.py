"""The lead's view over a season."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kitchen.members.pages import kitchen_named, person
from kitchen.members.rules import Deed, can
from kitchen.season.bridge import CAUTION
from kitchen.season.pages import panels_of, summary_of
from kitchen.season.queries import season_of, years_of


@require_safe
def season(request: HttpRequest, kitchen: str, year: int | None = None) -> HttpResponse:
    """A year of the kitchen; without one the newest in which it had a harvest day."""
    here = kitchen_named(request, kitchen)
    if not can(person(request), here, Deed.SEE_SEASON):
        raise Http404
    now = timezone.now()
    years = years_of(here) or [now.astimezone(here.zone).year]
    if year is not None and year not in years:
        raise Http404
    found = season_of(here, year or years[0], now)
    context = {
        "kitchen": here,
        "years": years,
        "season": found,
        "summary": summary_of(found),
        "panels": panels_of(found),
        "caution": CAUTION,
    }
    return render(request, "season/season.html", context)
