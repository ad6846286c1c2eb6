"""Drawing the rota of a published plan up again: whom the lead keeps where, and what comes of it before anything is
published.
"""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from kitchen.errors import KitchenError
from kitchen.harvest.bridge import CAUTION
from kitchen.harvest.keeping_pages import Asked, is_few, stations_of, why_not_standing
from kitchen.harvest.pages import job_named
from kitchen.harvest.plan_pieces import drawn_piece
from kitchen.members.pages import kitchen_named, person
from kitchen.members.rules import Deed, check_may
from kitchen.planning.keeping import request_rota
from kitchen.planning.models import OPEN_JOB_STATES, HarvestDay, PlanJob
from kitchen.planning.rules import can_be_published
from kitchen.planning.verdict import known_violations
from kitchen.rota.pages import day_named

_SHIFT = "shift-"


@require_http_methods(["GET", "HEAD", "POST"])
def draw(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Choose who stays where, and ask for the rota around that."""
    here, me = kitchen_named(request, kitchen), person(request)
    check_may(me, here, Deed.DRAW_ROTA)
    found = day_named(here, day)
    again = _again(found, request.GET.get("again", ""))
    given, refusal = None, None
    few = request.POST["change"] == "few" if "change" in request.POST else again is not None and is_few(again)
    if request.method == "POST":
        given = _chosen(request.POST)
    if request.method == "POST" and "show" not in request.POST:
        try:
            job = request_rota(harvest_day=found, chosen=given or {}, actor=me, few_changes=few)
        except KitchenError as refused:
            refusal = refused
        else:
            return redirect("harvest:progress", here.slug, found.uuid, job.uuid)
    try:
        stations = stations_of(
            found,
            Asked(
                given=given,
                again=again,
                looked_at=request.GET.get("shift", ""),
                shown=frozenset(request.POST.getlist("show") + request.POST.getlist("show-again")),
            ),
        )
    except KitchenError as refused:
        messages.error(request, str(refused))
        return redirect("rota:everybody", here.slug, found.uuid)
    context = {
        "kitchen": here,
        "day": found,
        "stations": stations,
        "few": few,
        "by_hand": any(seat.by_hand for station in stations for seat in station.seats),
        "refusal": refusal,
        "caution": CAUTION,
    }
    return render(request, "harvest/draw.html", context, status=422 if refusal else 200)


@require_safe
def drawn(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """A rota drawn up: who is kept, what changes for whom, how fair it is; published from here."""
    here, me = kitchen_named(request, kitchen), person(request)
    check_may(me, here, Deed.DRAW_ROTA)
    found = job_named(day_named(here, day), job, light=True)
    if not found.is_of_rota:
        raise Http404
    if found.state in OPEN_JOB_STATES:
        return redirect("harvest:progress", here.slug, found.harvest_day.uuid, found.uuid)
    made = found.has_plan
    broken = known_violations(found)
    why_not = why_not_standing(found, timezone.now()) if made and found.published_at is None else None
    context = {
        "kitchen": here,
        "day": found.harvest_day,
        "job": found,
        "made": made,
        "rota": drawn_piece(found, found.harvest_day),
        "violations": broken,
        "why_not": why_not,
        "may_publish": made
        and found.published_at is None
        and not broken
        and why_not is None
        and can_be_published(found, found.harvest_day),
        "caution": CAUTION,
    }
    return render(request, "harvest/drawn.html", context)


def _chosen(given: QueryDict) -> dict[int, int]:
    """By the key of a shift the key of the person chosen for it; what is no number was not chosen here."""
    return {
        int(name.removeprefix(_SHIFT)): int(str(value))
        for name, value in given.items()
        if name.startswith(_SHIFT) and name.removeprefix(_SHIFT).isdecimal() and str(value).isdecimal()
    }


def _again(day: HarvestDay, uuid: str) -> PlanJob | None:
    """The rota drawn up before whose choices the lead wants to change; None when there is none of this name."""
    try:
        return day.plan_jobs.filter(uuid=UUID(uuid), around__isnull=False).first()
    except ValueError:
        return None
