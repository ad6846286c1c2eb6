"""The run sheets, live and to print, and writing into the process record."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import AlreadyRecorded, KitchenError
from kitchen.floor.actions import jars_out, record_event, withdraw_event
from kitchen.floor.bridge import CAUTION
from kitchen.floor.forms import (
    CorrectForm,
    HandOverForm,
    HoldForm,
    JarsOutForm,
    StepForm,
    WithdrawForm,
    initial_temperature,
)
from kitchen.floor.handing_over import hand_over
from kitchen.floor.live import live
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.pages import any_day_named
from kitchen.floor.queries import standing_events, steps_of
from kitchen.floor.rules import wall_moment
from kitchen.floor.running import can_run
from kitchen.language.person import Units, units_in_use
from kitchen.language.said import said
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import kitchen_named, person, shown_time
from kitchen.members.queries import members_of
from kitchen.planning.models import Load, LoadState
from kitchen.planning.queries import loads_of
from kitchen.seals.actions import decide_hold
from kitchen.seals.models import HoldOutcome


@require_safe
def run_sheet(request: HttpRequest, kitchen: str, day: UUID, canner: UUID) -> HttpResponse:
    """One canner on one day: the load at hand with its next step, and all loads to print."""
    here = kitchen_named(request, kitchen)
    found = any_day_named(here, day)
    vessel = get_object_or_404(here.canners, uuid=canner)
    return live(request, here, found, [vessel], "floor/run_sheet.html")


@require_safe
def canners(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """All canners of a day on one screen, each with the load at hand and its next step."""
    here = kitchen_named(request, kitchen)
    found = any_day_named(here, day)
    used = here.canners.filter(pk__in=loads_of(found).values("canner")).order_by("code")
    return live(request, here, found, used, "floor/canners.html")


@require_POST
def step(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """Write down one step of a load."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), StepForm(request.POST)
    if _valid(request, form):
        given = form.cleaned_data
        kind = EventKind(given["kind"])
        written = _written(
            request,
            lambda: record_event(
                load=found,
                kind=kind,
                at=_at(given["at"], here),
                actor=me,
                reading_psi=given["reading_psi"],
                initial_temp_f=given["initial_temp_f"],
                note=given["note"],
                seen=given["seen"],
            ),
        )
        if written:
            messages.success(request, _("Recorded: %(step)s.") % {"step": said(kind.label)})
    return _back(request, here, found)


@require_POST
def out(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """Record when the jars came out."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), JarsOutForm(request.POST)
    if _valid(request, form):
        given = form.cleaned_data
        at = _at(given["at"], here)
        written = _written(
            request,
            lambda: jars_out(load=found, at=at, actor=me, deviation=given["deviation"], seen=given["seen"]),
        )
        if written:
            told = _("Load %(number)s: jars out at %(time)s. The members are reminded after 12 and 24 hours.")
            messages.success(request, told % {"number": found.number, "time": shown_time(here, at)})
    return _back(request, here, found)


@require_POST
def watch(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """Write down who takes over the watch."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), HandOverForm(request.POST, members=members_of(here))
    if _valid(request, form, _("Choose who takes over the watch.")):
        given = form.cleaned_data
        at = _at(given["at"], here)
        written = _written(
            request,
            lambda: hand_over(
                load=found, to=given["to"], at=at, actor=me, note=given["note"], seen=given["seen"]
            ),
        )
        if written:
            messages.success(request, _("Recorded: %(who)s has the watch.") % {"who": given["to"]})
    return _back(request, here, found)


@require_safe
def line(request: HttpRequest, kitchen: str, load: UUID, line: int) -> HttpResponse:
    """A line that may be wrong: give it its right time, or take it back."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = _load(here, load)
    event = _line(found, line)
    standing = standing_events(found)
    context = {
        "kitchen": here,
        "load": found,
        "event": event,
        "stands": event in standing and found.state != LoadState.CLOSED,
        "is_last": _may_be_taken_back(event, standing),
        "in_celsius": units_in_use() is Units.METRIC,
        "degrees": initial_temperature(event),
        "runs": can_run(me, found),
        "caution": CAUTION,
    }
    return render(request, "floor/line.html", context)


@require_POST
def correct(request: HttpRequest, kitchen: str, load: UUID, line: int) -> HttpResponse:
    """Write down when a step really happened; the wrong line stays readable."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), CorrectForm(request.POST)
    event = _line(found, line)
    words = _("Give the time at which it happened, and say why the line was wrong.")
    if not _valid(request, form, words):
        return redirect("floor:line", here.slug, found.uuid, event.pk)
    if not _written(request, _correction(event, form.cleaned_data, here, me)):
        return redirect("floor:line", here.slug, found.uuid, event.pk)
    messages.success(request, _("Corrected. The wrong line stays readable."))
    return _back(request, here, found)


@require_POST
def withdraw(request: HttpRequest, kitchen: str, load: UUID, line: int) -> HttpResponse:
    """Say that a line was written by mistake."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), WithdrawForm(request.POST)
    event = _line(found, line)
    if _valid(request, form, _("Say why the line is taken back.")):
        note = form.cleaned_data["note"]
        _written(request, lambda: withdraw_event(event=event, actor=me, note=note))
    return _back(request, here, found)


@require_POST
def hold(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """A lead decides about jars on hold."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _load(here, load), HoldForm(request.POST)
    if _valid(request, form, _("Choose what becomes of the jars, and say why.")):
        given = form.cleaned_data
        outcome = HoldOutcome(given["outcome"])
        _written(request, lambda: decide_hold(load=found, outcome=outcome, by=me, reason=given["reason"]))
    return _back(request, here, found)


def _may_be_taken_back(event: RunEvent, standing: Sequence[RunEvent]) -> bool:
    """The last step, so that no gap is left before another; a hand-over at any time, for no step hangs on it."""
    if event.kind in (EventKind.HAND_OVER, EventKind.JARS_OUT):
        return event.kind == EventKind.HAND_OVER
    return steps_of(standing)[-1:] == [event]


def _correction(event: RunEvent, given: Mapping[str, Any], here: Kitchen, me: User) -> Callable[[], RunEvent]:
    at, note = _at(given["at"], here), given["note"]
    to = event.taken_by
    if to is not None:
        return lambda: hand_over(load=event.load, to=to, at=at, actor=me, note=note, corrects=event)
    return lambda: record_event(
        load=event.load,
        kind=EventKind(event.kind),
        at=at,
        actor=me,
        reading_psi=given["reading_psi"],
        initial_temp_f=given["initial_temp_f"],
        note=note,
        corrects=event,
    )


def _load(kitchen: Kitchen, uuid: UUID) -> Load:
    loads = Load.objects.select_related("canner", "harvest_day__kitchen")
    found = loads.filter(harvest_day__kitchen=kitchen, uuid=uuid).first()
    if found is None:
        raise Http404
    return found


def _line(load: Load, pk: int) -> RunEvent:
    lines = RunEvent.objects.select_related(
        "load__canner", "load__harvest_day__kitchen", "recorded_by", "taken_by"
    )
    return get_object_or_404(lines, load=load, pk=pk)


def _written(request: HttpRequest, write: Callable[[], object]) -> bool:
    """Whether it was written; what was refused is told, and what was there already is no fault."""
    try:
        write()
    except AlreadyRecorded as told:
        messages.info(request, str(told))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        return True
    return False


def _back(request: HttpRequest, kitchen: Kitchen, load: Load) -> HttpResponse:
    """To where the press came from: the canner's own page, or that of all canners."""
    if request.POST.get("back") == "all":
        response = redirect("floor:canners", kitchen.slug, load.harvest_day.uuid)
    else:
        response = redirect("floor:run-sheet", kitchen.slug, load.harvest_day.uuid, load.canner.uuid)
    response["Location"] += f"#now-{load.canner.code}"
    return response


def _valid(request: HttpRequest, form: Form, words: str = "") -> bool:
    if not form.is_valid():
        unreadable = _("That could not be read. Check the time and the gauge reading, then tap again.")
        messages.error(request, words or unreadable)
    return form.is_valid()


def _at(given: datetime | None, kitchen: Kitchen) -> datetime:
    """The time written down, as the kitchen's own; now when none was."""
    return timezone.now() if given is None else wall_moment(given, kitchen.zone)
