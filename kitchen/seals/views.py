"""The seal check, reached from a reminder's signed link or from the member's own page."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kitchen.errors import KitchenError
from kitchen.members.models import User
from kitchen.members.pages import kitchen_named, person
from kitchen.planning.models import LoadPortion
from kitchen.reminders.links import read_link
from kitchen.reminders.words import BANDS_OFF, FOUND_LATER, LOOK, PRESS, REFRIGERATE, SAME_PROCESS, TAP
from kitchen.seals.actions import record_seal_check
from kitchen.seals.bridge import CAUTION
from kitchen.seals.forms import SealCheckForm
from kitchen.seals.queries import standing_check
from kitchen.seals.rules import can_count, reprocess_deadline


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def by_link(request: HttpRequest, token: str) -> HttpResponse:
    """The check of the one portion that a signed link is for. Opening it changes nothing."""
    link = read_link(token)
    return _check(request, link.portion, link.user)


@require_http_methods(["GET", "HEAD", "POST"])
def by_member(request: HttpRequest, kitchen: str, portion: UUID) -> HttpResponse:
    """The same check for someone signed in."""
    here, me = kitchen_named(request, kitchen), person(request)
    portions = LoadPortion.objects.select_related("batch", "load__harvest_day__kitchen", "load__canner")
    found = get_object_or_404(portions, load__harvest_day__kitchen=here, uuid=portion)
    if not can_count(me, found):
        raise Http404
    return _check(request, found, me)


def _check(request: HttpRequest, portion: LoadPortion, by: User) -> HttpResponse:
    kitchen = portion.load.harvest_day.kitchen
    form = SealCheckForm(request.POST or None, initial=SealCheckForm.for_portion(portion))
    context: dict[str, object] = {
        "kitchen": kitchen,
        "portion": portion,
        "form": form,
        "before": standing_check(portion),
        "deadline": reprocess_deadline(portion.load) if portion.load.jars_out_at else None,
        "now": timezone.now(),
        "tests": (PRESS, TAP, LOOK),
        "bands_off": BANDS_OFF,
        "same_process": SAME_PROCESS,
        "refrigerate": REFRIGERATE,
        "found_later": FOUND_LATER,
        "caution": CAUTION,
    }
    if request.method == "POST" and form.is_valid():
        try:
            counted = record_seal_check(
                portion=portion, by=by, correct="correct" in request.POST, **form.cleaned_data
            )
        except KitchenError as refusal:
            return render(request, "seals/check.html", context | {"refusal": refusal}, status=422)
        return render(request, "seals/counted.html", context | {"counted": counted})
    return render(request, "seals/check.html", context, status=422 if form.errors else 200)
