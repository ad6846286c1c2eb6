"""The pages of what-if: asking what would place what a plan leaves out, watching, stopping, making a change."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.harvest.actions import make_change
from kitchen.harvest.bridge import CAUTION
from kitchen.harvest.pages import job_named
from kitchen.members.pages import kitchen_named, person
from kitchen.members.rules import Deed, check_may
from kitchen.planning.answering import WHAT_IF_SECONDS
from kitchen.planning.asking import request_what_if, stop_what_if
from kitchen.planning.models import OPEN_JOB_STATES, PlanJob
from kitchen.planning.queries import what_if_of
from kitchen.rota.pages import day_named


@require_POST
def ask(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """Ask what would place the jars that this plan leaves out or brings home late."""
    here = kitchen_named(request, kitchen)
    found = job_named(day_named(here, day), job)
    try:
        request_what_if(job=found, actor=person(request))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
        return redirect("harvest:day", here.slug, found.harvest_day.uuid)
    return redirect("harvest:what-if", here.slug, found.harvest_day.uuid, found.uuid)


@require_safe
def watch(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """How the search is coming along; leads back to the day when it is done."""
    here = kitchen_named(request, kitchen)
    check_may(person(request), here, Deed.PLAN_DAY)
    found = job_named(day_named(here, day), job)
    asked = what_if_of(found)
    if asked is None or asked.state not in OPEN_JOB_STATES:
        return redirect(_answers_of(found))
    context = {
        "kitchen": here,
        "day": found.harvest_day,
        "job": found,
        "asked": asked,
        "limit": WHAT_IF_SECONDS,
        "caution": CAUTION,
    }
    return render(request, "harvest/what_if_progress.html", context)


@require_POST
def stop_asking(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """Stop the search; what it has found is kept."""
    here = kitchen_named(request, kitchen)
    check_may(person(request), here, Deed.PLAN_DAY)
    found = job_named(day_named(here, day), job)
    asked = what_if_of(found)
    if asked is not None:
        try:
            stop_what_if(asked=asked, actor=person(request))
        except KitchenError as refusal:
            messages.error(request, str(refusal))
    return redirect("harvest:what-if", here.slug, found.harvest_day.uuid, found.uuid)


@require_POST
def make(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """Make a change that was found. The day is then to be planned again."""
    here = kitchen_named(request, kitchen)
    found = job_named(day_named(here, day), job)
    try:
        make_change(job=found, name=request.POST.get("change", ""), actor=person(request))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
        return redirect(_answers_of(found))
    messages.success(request, "The change is made. Plan the day again: this plan no longer fits it.")
    return redirect("harvest:day", here.slug, found.harvest_day.uuid)


def _answers_of(job: PlanJob) -> str:
    """Where the answers stand on the day's page."""
    day = job.harvest_day
    return f"{reverse('harvest:day', args=[day.kitchen.slug, day.uuid])}#what-if"
