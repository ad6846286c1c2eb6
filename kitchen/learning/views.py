"""The page of measured times: the estimate, the data, and what the planner now uses."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.learning.actions import time_work, withdraw_work
from kitchen.learning.bridge import CAUTION, PRIOR_RECORDS, counts, csv_of, sections_for
from kitchen.learning.forms import UseForm, WorkForm
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.learning.pieces import newest_piece, sections_piece
from kitchen.learning.queries import batches_to_time, keys_before, times_before
from kitchen.members.actions import change_policy
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_named, person
from kitchen.members.rules import Deed, can

_SHOWN = 12
_OF_TIME = tuple(field.name for field in MeasuredTime._meta.concrete_fields)


@require_safe
def times(request: HttpRequest, kitchen: str) -> HttpResponse:
    """What was measured, what is learned from it, and what is planned with."""
    here, me = kitchen_named(request, kitchen), person(request)
    now = timezone.now()
    today = now.astimezone(here.zone).date()
    tomorrow = today + timedelta(days=1)
    known = keys_before(here, tomorrow)
    newest = times_before(here, tomorrow).select_related("canner", "load", "batch")
    newest = newest.only(*_OF_TIME, "canner__name", "load__lot_code", "batch__food_name")
    runs = can(me, here, Deed.RUN_LOAD)
    use = UseForm(initial={"plan_by_records": here.plan_by_records, "kept_percent": here.kept_percent})
    context = {
        "kitchen": here,
        "sections": sections_piece(here, sections_for(here, known, today)),
        "newest": newest_piece(
            get_token(request), here, [(time, counts(time)) for time in newest[:_SHOWN]], runs=runs
        ),
        "noted": len(known),
        "prior": PRIOR_RECORDS,
        "work_form": WorkForm(batches_to_time(here, now)),
        "use_form": use,
        "runs": runs,
        "leads": can(me, here, Deed.CHANGE_POLICY),
        "caution": CAUTION,
    }
    return render(request, "learning/times.html", context)


@require_safe
def records(request: HttpRequest, kitchen: str) -> HttpResponse:
    """The same records as a table, to be kept or to be given to the command ``learn``."""
    here = kitchen_named(request, kitchen)
    today = timezone.now().astimezone(here.zone).date()
    known = times_before(here, today + timedelta(days=1)).select_related("canner")
    response = HttpResponse(csv_of(known), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="measured-times-{today}.csv"'
    return response


@require_POST
def use(request: HttpRequest, kitchen: str) -> HttpResponse:
    """A lead decides whether, and how cautiously, plans use the records."""
    here, me = kitchen_named(request, kitchen), person(request)
    form = UseForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose how many loads shall keep a learned time.")
        return _back(here)
    try:
        change_policy(kitchen=here, changes=form.cleaned_data, actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "Saved. Plans made before show as out of date when this changes them.")
    return _back(here)


@require_POST
def work(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Note how long work took."""
    here, me = kitchen_named(request, kitchen), person(request)
    form = WorkForm(batches_to_time(here, timezone.now()), request.POST)
    if not form.is_valid():
        told = "; ".join(
            f"{form[name].label}: {' '.join(map(str, errors))}" for name, errors in form.errors.items()
        )
        messages.error(request, f"Nothing was noted. {told}")
        return _back(here)
    given = form.cleaned_data
    try:
        timed = time_work(
            batch=given["batch"],
            kind=TimedKind(given["kind"]),
            jars=given["jars"],
            hands=given["hands"],
            minutes=given["minutes"],
            actor=me,
        )
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(
            request, f"Noted: {timed.recorded_minutes:g} minutes; usual are {timed.usual_minutes:.0f}."
        )
    return _back(here)


@require_POST
def withdraw(request: HttpRequest, kitchen: str, time: int) -> HttpResponse:
    """Take back a time that was noted by mistake."""
    here, me = kitchen_named(request, kitchen), person(request)
    timed = get_object_or_404(MeasuredTime.objects.select_related("kitchen"), kitchen=here, pk=time)
    try:
        withdraw_work(timed=timed, actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "That time is taken back; nothing is learned from it.")
    return _back(here)


def _back(kitchen: Kitchen) -> HttpResponse:
    return redirect("learning:times", kitchen.slug)
