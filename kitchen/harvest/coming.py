"""When people can help on a harvest day: saying it, and taking it back."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from kitchen.errors import KitchenError
from kitchen.harvest.actions import come_to_help
from kitchen.harvest.forms import HelpForm
from kitchen.harvest.pages import hours_words
from kitchen.members.pages import kitchen_named, person, wall_time
from kitchen.planning.models import HarvestDay
from kitchen.rota.actions import withdraw_attendance
from kitchen.rota.forms import HOURS_UNREADABLE
from kitchen.rota.pages import day_named
from kitchen.rota.queries import attendances_of


@require_POST
def help_out(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Say when I can help. Busy times of my calendar are taken out, unless I come all the same."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = day_named(here, day)
    form = HelpForm(request.POST)
    if form.is_valid():
        starts = wall_time(here, found.date, form.cleaned_data["starts"])
        ends = wall_time(here, found.date, form.cleaned_data["ends"])
        try:
            coming = come_to_help(
                harvest_day=found,
                user=me,
                starts_at=starts,
                ends_at=ends,
                actor=me,
                despite_busy=form.cleaned_data["despite_busy"],
            )
        except KitchenError as refusal:
            messages.error(request, str(refusal))
        else:
            told = f"Thank you: you are there from {hours_words(here, coming.hours)}."
            if coming.taken_out:
                told += f" Taken out, because your calendar says busy: {hours_words(here, coming.taken_out)}."
            messages.success(request, told)
    else:
        messages.error(request, HOURS_UNREADABLE)
    return _back(request, found)


@require_POST
def take_back(request: HttpRequest, kitchen: str, day: UUID, hours: int) -> HttpResponse:
    """Take hours back: my own, or as a lead anybody's."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = day_named(here, day)
    given = get_object_or_404(attendances_of(found).select_related("harvest_day__kitchen"), pk=hours)
    try:
        opened = withdraw_attendance(attendance=given, actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        told = "Those hours are taken back. A plan made with them shows as out of date."
        if opened:
            told += f" Shifts in them that are open now: {len(opened)}. The leads are told."
        messages.success(request, told)
    return _back(request, found)


def _back(request: HttpRequest, day: HarvestDay) -> HttpResponse:
    """To the page that the form stood on: the rota's, or the day's."""
    page = "rota:mine" if request.POST.get("page") == "rota" else "harvest:day"
    return redirect(page, day.kitchen.slug, day.uuid)
