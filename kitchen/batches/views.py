"""The lead's page of published lines that were seen on one page only (rule S1)."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from kitchen.batches.bridge import CAUTION, lines_to_confirm
from kitchen.batches.forms import ConfirmForm
from kitchen.errors import BadSetting, KitchenError
from kitchen.members.actions import confirm_process, withdraw_process
from kitchen.members.models import ConfirmedProcess
from kitchen.members.pages import kitchen_for, person
from kitchen.members.rules import Deed


def lines(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Which lines wait; a press confirms one that was compared, figure by figure, with a named publication."""
    here = kitchen_for(request, kitchen, Deed.CONFIRM_PROCESS)
    waiting = lines_to_confirm(here.altitude_ft)
    refusal: KitchenError | None = None
    if request.method == "POST":
        try:
            if request.POST.get("line") not in {line.key for line in waiting}:
                raise BadSetting("That is no line of this list.", remedy="Choose one of the lines.")
            form = ConfirmForm(request.POST)
            if not form.is_valid():
                raise BadSetting(
                    "The name of the publication cannot be noted so.",
                    remedy="Write it in at most 200 letters, on one line.",
                )
            confirm_process(
                kitchen=here,
                process_key=request.POST["line"],
                publication=form.cleaned_data["publication"],
                actor=person(request),
            )
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(request, "Confirmed: it is planned with from now on.")
            return redirect("batches:lines", here.slug)
    confirmed = {one.process_key: one for one in here.confirmed_processes.select_related("confirmed_by")}
    context = {
        "kitchen": here,
        "rows": [(line, confirmed.get(line.key)) for line in waiting],
        "refusal": refusal,
        "caution": CAUTION,
    }
    return render(request, "batches/lines.html", context, status=200 if refusal is None else 422)


@require_POST
def withdraw(request: HttpRequest, kitchen: str, confirmed: int) -> HttpResponse:
    """Take a confirmation back."""
    here = kitchen_for(request, kitchen, Deed.CONFIRM_PROCESS)
    found = get_object_or_404(ConfirmedProcess, kitchen=here, pk=confirmed)
    withdraw_process(confirmed=found, actor=person(request))
    messages.success(request, "Taken back: it is not planned with any more.")
    return redirect("batches:lines", here.slug)
