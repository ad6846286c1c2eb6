"""The run sheet of a canner, and writing into the process record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.floor.actions import jars_out, record_event, withdraw_event
from kitchen.floor.bridge import CAUTION, inches, phase_words, picture_of
from kitchen.floor.forms import HoldForm, JarsOutForm, StepForm, WithdrawForm
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import standing_events
from kitchen.floor.rules import earliest_out, next_kinds
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_named, person, shown_time
from kitchen.members.rules import Deed, can
from kitchen.planning.models import HarvestDay, Load, LoadPhase, LoadPortion, LoadState
from kitchen.planning.queries import loads_of
from kitchen.rota.models import Shift
from kitchen.rota.queries import watches_of
from kitchen.seals.actions import decide_hold
from kitchen.seals.models import HoldOutcome

_UNREADABLE = "That could not be read. Check the time and the gauge reading, then tap again."
# What goes wrong stands beside what should come next, never in its place.
_MISHAPS = frozenset({EventKind.PRESSURE_LOST, EventKind.BOIL_LOST})
# The tap that tells when a phase began; the rest is read off the clock.
_BEGINS: dict[str, tuple[EventKind, ...]] = {
    "heat_up": (EventKind.LOADED,),
    "vent": (EventKind.STEADY_STEAM,),
    "pressure_up": (EventKind.WEIGHT_ON,),
    "process": (EventKind.AT_PRESSURE, EventKind.FULL_BOIL),
    "cool_down": (EventKind.HEAT_OFF,),
    "rest": (EventKind.ZERO_PRESSURE,),
    "unloading": (EventKind.LID_OFF,),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseLine:
    """A phase as planned, and when it began; None where nothing is recorded."""

    words: str
    starts_at: datetime
    ends_at: datetime
    began: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A load on the run sheet: who watches it, its plan beside what was recorded, and what may come next.

    ``contents`` pairs each portion with its headspace in words. ``last_line`` is the line of the record that
    may be taken back. ``reading`` asks for what the gauge shows. ``ready_at`` is the earliest moment for jars
    out, once the heat is off.
    """

    load: Load
    watches: list[Shift]
    picture: str
    contents: list[tuple[LoadPortion, str]]
    phases: list[PhaseLine]
    record: list[RunEvent]
    last_line: RunEvent | None
    next_step: EventKind | None
    other_steps: list[EventKind]
    reading: bool
    standing: bool
    may_come_out: bool
    planned_out: datetime
    ready_at: datetime | None


@require_safe
def run_sheet(request: HttpRequest, kitchen: str, day: UUID, canner: UUID) -> HttpResponse:
    """All loads of one canner on one day, to be printed or tapped."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = get_object_or_404(HarvestDay, kitchen=here, uuid=day)
    vessel = get_object_or_404(here.canners, uuid=canner)
    loads = loads_of(found).filter(canner=vessel).order_by("number")
    watches = list(watches_of(found))
    context = {
        "kitchen": here,
        "day": found,
        "canner": vessel,
        "cards": [_card(load, found, [one for one in watches if one.load_id == load.pk]) for load in loads],
        "runs": can(me, here, Deed.RUN_LOAD),
        "leads": can(me, here, Deed.DECIDE_HOLD),
        "now": timezone.now(),
        "caution": CAUTION,
    }
    return render(request, "floor/run_sheet.html", context)


@require_POST
def step(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """Write down one step of a load."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), StepForm(request.POST)
    if _valid(request, form):
        given = form.cleaned_data
        try:
            record_event(
                load=found,
                kind=EventKind(given["kind"]),
                at=_at(given["at"], here),
                actor=me,
                reading_psi=given["reading_psi"],
                note=given["note"],
            )
        except KitchenError as refusal:
            messages.error(request, str(refusal))
    return _back(here, found)


@require_POST
def out(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """Record when the jars came out."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), JarsOutForm(request.POST)
    if _valid(request, form):
        given = form.cleaned_data
        try:
            done = jars_out(load=found, at=_at(given["at"], here), actor=me, deviation=given["deviation"])
        except KitchenError as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(
                request,
                f"Load {done.number}: jars out at {shown_time(here, done.jars_out_at)}. "
                "The members are reminded after 12 and 24 hours.",
            )
    return _back(here, found)


@require_POST
def withdraw(request: HttpRequest, kitchen: str, load: UUID, line: int) -> HttpResponse:
    """Say that a line was written by mistake."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), WithdrawForm(request.POST)
    event = get_object_or_404(
        RunEvent.objects.select_related("load__harvest_day__kitchen"), load=found, pk=line
    )
    if _valid(request, form, "Say why the line is taken back."):
        try:
            withdraw_event(event=event, actor=me, note=form.cleaned_data["note"])
        except KitchenError as refusal:
            messages.error(request, str(refusal))
    return _back(here, found)


@require_POST
def hold(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """A lead decides about jars on hold."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), HoldForm(request.POST)
    if _valid(request, form, "Choose what becomes of the jars, and say why."):
        given = form.cleaned_data
        try:
            decide_hold(load=found, outcome=HoldOutcome(given["outcome"]), by=me, reason=given["reason"])
        except KitchenError as refusal:
            messages.error(request, str(refusal))
    return _back(here, found)


def _load(kitchen: Kitchen, uuid: UUID) -> Load:
    loads = Load.objects.select_related("canner", "harvest_day__kitchen")
    found = loads.filter(harvest_day__kitchen=kitchen, uuid=uuid).first()
    if found is None:
        raise Http404
    return found


def _back(kitchen: Kitchen, load: Load) -> HttpResponse:
    response = redirect("floor:run-sheet", kitchen.slug, load.harvest_day.uuid, load.canner.uuid)
    response["Location"] += f"#load-{load.number}"
    return response


def _valid(request: HttpRequest, form: Form, words: str = _UNREADABLE) -> bool:
    if not form.is_valid():
        messages.error(request, words)
    return form.is_valid()


def _at(given: datetime | None, kitchen: Kitchen) -> datetime:
    """The time written down, as the kitchen's own; now when none was."""
    return timezone.now() if given is None else given.replace(tzinfo=kitchen.zone)


def _card(load: Load, day: HarvestDay, watches: list[Shift]) -> Card:
    record, phases = standing_events(load), list(load.phases.all())
    standing = load.state in (LoadState.PLANNED, LoadState.RUNNING)
    steps = next_kinds(load.canner, record) if standing else []
    expected = [kind for kind in steps if kind not in _MISHAPS and kind is not EventKind.JARS_OUT]
    heat_off = next((event.at for event in reversed(record) if event.kind == EventKind.HEAT_OFF), None)
    return Card(
        load=load,
        watches=watches,
        picture=picture_of(load, day.date),
        contents=[(portion, inches(portion.headspace_in)) for portion in load.portions.all()],
        phases=[_line(phase, record) for phase in phases],
        record=record,
        last_line=record[-1] if record and record[-1].kind != EventKind.JARS_OUT else None,
        next_step=expected[0] if expected else None,
        other_steps=[kind for kind in steps if kind in _MISHAPS],
        reading=EventKind.AT_PRESSURE in steps or EventKind.PRESSURE_LOST in steps,
        standing=standing,
        may_come_out=standing and EventKind.JARS_OUT in steps,
        planned_out=phases[-1].ends_at,
        ready_at=earliest_out(load, heat_off) if standing and heat_off is not None else None,
    )


def _line(phase: LoadPhase, record: list[RunEvent]) -> PhaseLine:
    kinds = _BEGINS.get(phase.kind, ())
    return PhaseLine(
        words=phase_words(phase.kind),
        starts_at=phase.starts_at,
        ends_at=phase.ends_at,
        began=next((event.at for event in reversed(record) if event.kind in kinds), None),
    )
