"""The lead's page about the kitchen's place and hours."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from kitchen.errors import KitchenError
from kitchen.members.actions import change_site, set_opening_hours
from kitchen.members.forms import HoursForm, SiteForm
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_for, person
from kitchen.members.rules import Deed


def premises(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Where the kitchen is and when it is usually open."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    return _shown(request, here, _site_form(here), HoursForm(kitchen=here))


@require_POST
def change_place(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Another altitude or time zone: plans made before show as out of date."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    form = SiteForm(request.POST)
    refusal: KitchenError | None = None
    if form.is_valid():
        try:
            change_site(kitchen=here, actor=person(request), **form.cleaned_data)
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(request, "Changed. Plans made before are out of date.")
            return redirect("members:premises", here.slug)
    return _shown(request, here, form, HoursForm(kitchen=here), refusal)


@require_POST
def change_hours(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Other hours, of all weekdays at once or of none."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    form = HoursForm(request.POST, kitchen=here)
    refusal: KitchenError | None = None
    if form.is_valid():
        try:
            _set_hours(request, here, form)
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(request, "Changed.")
            return redirect("members:premises", here.slug)
    return _shown(request, here, _site_form(here), form, refusal)


@transaction.atomic
def _set_hours(request: HttpRequest, here: Kitchen, form: HoursForm) -> None:
    standing: dict[int, list[object]] = {day: [] for day in range(7)}
    for one in here.opening_hours.order_by("weekday", "opens"):
        standing[one.weekday].append((one.opens, one.closes))
    for day, before in standing.items():
        hours = form.hours(day)
        if sorted(hours) != before:
            set_opening_hours(kitchen=here, weekday=day, hours=hours, actor=person(request))


def _site_form(here: Kitchen) -> SiteForm:
    return SiteForm(initial={"altitude_ft": here.altitude_ft, "time_zone": here.time_zone})


def _shown(
    request: HttpRequest,
    here: Kitchen,
    site: SiteForm,
    hours: HoursForm,
    refusal: KitchenError | None = None,
) -> HttpResponse:
    context = {"kitchen": here, "site": site, "hours": hours, "refusal": refusal}
    status = 422 if refusal is not None or site.errors or hours.errors else 200
    return render(request, "members/premises.html", context, status=status)
