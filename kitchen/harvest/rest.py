"""Planning the rest of a day under way: what happened, and the difference before anything is published."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kitchen.batches.actions import change_batch, receive_batch
from kitchen.batches.models import Batch
from kitchen.batches.queries import batches_of_day
from kitchen.equipment.actions import take_out_of_service
from kitchen.equipment.queries import canners_of
from kitchen.errors import KitchenError
from kitchen.harvest.bridge import CAUTION
from kitchen.harvest.forms import Choices, HappenedForm
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import kitchen_named, person, wall_time
from kitchen.members.rules import Deed, check_may
from kitchen.planning.actions import request_rest
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.rota.actions import leave
from kitchen.rota.pages import day_named
from kitchen.rota.queries import attendances_of


@require_http_methods(["GET", "HEAD", "POST"])
def rest(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Say what happened, as far as the run sheets do not, and ask for a plan of the rest."""
    here, me = kitchen_named(request, kitchen), person(request)
    check_may(me, here, Deed.PLAN_DAY)
    found = day_named(here, day)
    form = HappenedForm(request.POST if request.method == "POST" else None, choices=_choices(here, found))
    refusal: KitchenError | None = None
    if request.method == "POST" and form.is_valid():
        try:
            job = _ask(here, found, form.cleaned_data, me)
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(request, "Noted. The rest of the day is being planned; nothing is binding yet.")
            return redirect("harvest:progress", here.slug, found.uuid, job.uuid)
    context = {"kitchen": here, "day": found, "form": form, "refusal": refusal, "caution": CAUTION}
    return render(request, "harvest/rest.html", context, status=422 if request.method == "POST" else 200)


@transaction.atomic
def _ask(kitchen: Kitchen, day: HarvestDay, given: Mapping[str, Any], me: User) -> PlanJob:
    """Note everything that happened and ask for the plan, all or nothing."""
    now = timezone.now()
    if given["canner"]:
        canner = kitchen.canners.get(pk=given["canner"])
        take_out_of_service(canner=canner, reason=given["failure"], actor=me)
    if given["gone"]:
        leave(harvest_day=day, user=User.objects.get(pk=given["gone"]), at=now, actor=me)
    if given["more"]:
        batch = batches_of_day(day.pk).get(pk=given["more"])
        receive_batch(batch=batch, jars=given["jars"], actor=me)
    if given["late"]:
        batch = batches_of_day(day.pk).get(pk=given["late"])
        change_batch(batch=batch, arrives_at=wall_time(kitchen, day.date, given["arrives"]), actor=me)
    return request_rest(harvest_day=day, actor=me, now=now)


def _choices(kitchen: Kitchen, day: HarvestDay) -> dict[str, Choices]:
    batches = [(str(batch.pk), _words(batch)) for batch in batches_of_day(day.pk)]
    here = {one.user_id: str(one.user) for one in attendances_of(day) if one.ends_at > timezone.now()}
    in_service = canners_of(kitchen).filter(out_of_service_reason="")
    return {
        "canner": [(str(canner.pk), canner.name) for canner in in_service],
        "gone": [(str(user_id), name) for user_id, name in here.items()],
        "more": batches,
        "late": batches,
    }


def _words(batch: Batch) -> str:
    return f"{batch.member}: {batch.jars} {batch.get_jar_display().lower()} jars of {batch.food_name}"
