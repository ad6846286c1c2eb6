"""The lead's page of programs that are told when jars are due."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from kitchen.errors import AlreadyDecided, KitchenError
from kitchen.hooks.actions import add_hook, end_hook, renew_secret, tell_again, try_hook
from kitchen.hooks.forms import HookForm
from kitchen.hooks.models import Hook
from kitchen.hooks.queries import hooks_of, tellings_of
from kitchen.http.outward import host_of
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_for, person
from kitchen.members.rules import Deed

_MOST_SHOWN = 20


@require_http_methods(["GET", "HEAD", "POST"])
def hooks(request: HttpRequest, kitchen: str) -> HttpResponse:
    """What is told where, and how it went; a press adds an address, whose secret is shown this once."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    form = HookForm(request.POST or None)
    if form.is_bound and form.is_valid():
        try:
            made = add_hook(kitchen=here, address=form.cleaned_data["address"], actor=person(request))
        except KitchenError as refusal:
            form.add_error("address", str(refusal))
        else:
            return render(request, "hooks/made.html", {"kitchen": here, "made": made})
    context = {
        "kitchen": here,
        "form": form,
        "hooks": [(hook, host_of(hook.address)) for hook in hooks_of(here)],
        "tellings": [(one, host_of(one.hook.address)) for one in tellings_of(here)[:_MOST_SHOWN]],
    }
    return render(request, "hooks/hooks.html", context, status=422 if form.errors else 200)


@require_POST
def secret(request: HttpRequest, kitchen: str, hook: UUID) -> HttpResponse:
    """Another secret in the place of one that was lost or seen."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    made = renew_secret(hook=_hook(here, hook), actor=person(request))
    return render(request, "hooks/made.html", {"kitchen": here, "made": made})


@require_POST
def end(request: HttpRequest, kitchen: str, hook: UUID) -> HttpResponse:
    """Tell an address nothing more."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    end_hook(hook=_hook(here, hook), actor=person(request))
    messages.success(request, "That address is told nothing more.")
    return redirect("hooks:hooks", here.slug)


@require_POST
def trial(request: HttpRequest, kitchen: str, hook: UUID) -> HttpResponse:
    """Send a message that says nothing."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    try:
        try_hook(hook=_hook(here, hook), actor=person(request))
    except AlreadyDecided as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "A trial is on its way. Look again in a minute.")
    return redirect("hooks:hooks", here.slug)


@require_POST
def again(request: HttpRequest, kitchen: str, telling: UUID) -> HttpResponse:
    """Send what was given up once more."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_POLICY)
    tell_again(telling=get_object_or_404(tellings_of(here), pk=telling), actor=person(request))
    messages.success(request, "It is sent again.")
    return redirect("hooks:hooks", here.slug)


def _hook(kitchen: Kitchen, hook: UUID) -> Hook:
    return get_object_or_404(hooks_of(kitchen), uuid=hook)
