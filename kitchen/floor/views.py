"""The run sheet of a canner, and writing into the process record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.floor.actions import jars_out, record_event
from kitchen.floor.bridge import CAUTION, picture_of
from kitchen.floor.forms import StepForm
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import standing_events
from kitchen.floor.rules import next_kinds
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import kitchen_named, person
from kitchen.members.rules import Deed, can
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.planning.queries import loads_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A load on the run sheet: what was recorded and what may come next."""

    load: Load
    picture: str
    record: list[RunEvent]
    steps: list[EventKind]


@require_safe
def run_sheet(request: HttpRequest, kitchen: str, day: UUID, canner: UUID) -> HttpResponse:
    """All loads of one canner on one day, to be printed or tapped."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = get_object_or_404(HarvestDay, kitchen=here, uuid=day)
    loads = list(loads_of(found).filter(canner__uuid=canner).order_by("number"))
    if not loads:
        raise Http404
    runs = can(me, here, Deed.RUN_LOAD)
    context = {
        "kitchen": here,
        "day": found,
        "canner": loads[0].canner,
        "cards": [_card(load, found, runs=runs) for load in loads],
        "runs": runs,
        "now": timezone.now().astimezone(here.zone),
        "caution": CAUTION,
    }
    return render(request, "floor/run_sheet.html", context)


@require_POST
def step(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """Write down one step of a load."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = get_object_or_404(
        Load.objects.select_related("canner", "harvest_day__kitchen"), harvest_day__kitchen=here, uuid=load
    )
    form = StepForm(request.POST)
    if form.is_valid():
        try:
            _record(found, form, at=_at(form, here), me=me)
        except KitchenError as refusal:
            messages.error(request, str(refusal))
    else:
        messages.error(request, "That could not be read. Check the time and the gauge reading.")
    return redirect("floor:run-sheet", here.slug, found.harvest_day.uuid, found.canner.uuid)


def _record(load: Load, form: StepForm, *, at: datetime, me: User) -> None:
    kind, note = EventKind(form.cleaned_data["kind"]), form.cleaned_data["note"]
    if kind is EventKind.JARS_OUT:
        jars_out(load=load, at=at, actor=me, deviation=note)
    else:
        record_event(
            load=load, kind=kind, at=at, actor=me, reading_psi=form.cleaned_data["reading_psi"], note=note
        )


def _at(form: StepForm, kitchen: Kitchen) -> datetime:
    """The time given, on the kitchen's wall; now when none was given."""
    given: datetime | None = form.cleaned_data["at"]
    return timezone.now() if given is None else given.replace(tzinfo=kitchen.zone)


def _card(load: Load, day: HarvestDay, *, runs: bool) -> Card:
    record = standing_events(load)
    going = load.state in (LoadState.PLANNED, LoadState.RUNNING)
    return Card(
        load=load,
        picture=picture_of(load, day.date),
        record=record,
        steps=next_kinds(load.canner, record) if runs and going else [],
    )
