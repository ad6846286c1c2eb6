"""Labels to print, the shelf, and a lot traced."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.batches.models import Batch
from kitchen.errors import KitchenError
from kitchen.labels.actions import move_jars, note_reprocess
from kitchen.labels.bridge import CAUTION
from kitchen.labels.drawing import Copies, sheets_pdf
from kitchen.labels.forms import AgainForm, LabelsForm, MoveForm, first_sheet
from kitchen.labels.models import MoveKind
from kitchen.labels.pages import nameless, rows, trace_of
from kitchen.labels.queries import Lot, lots_named, lots_of_batch, lots_of_day, lots_of_portion
from kitchen.labels.rules import labelled_by, seen_by
from kitchen.labels.shelf import Shelved, shelved_in
from kitchen.labels.shelf_pieces import shelf_piece
from kitchen.labels.stock import sheet_named
from kitchen.labels.words import label_of
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import kitchen_named, person
from kitchen.members.queries import kitchens_of
from kitchen.members.rules import Deed, can
from kitchen.planning.models import HarvestDay, LoadPortion


@require_safe
def of_jars(request: HttpRequest, kitchen: str, portion: UUID) -> HttpResponse:
    """Labels for the jars of one lot."""
    here = kitchen_named(request, kitchen)
    found = get_object_or_404(LoadPortion, load__harvest_day__kitchen=here, uuid=portion)
    return _labels(request, here, lots_of_portion(found))


@require_safe
def of_batch(request: HttpRequest, kitchen: str, batch: UUID) -> HttpResponse:
    """Labels for all jars of a batch, whatever loads they were in."""
    here = kitchen_named(request, kitchen)
    return _labels(request, here, lots_of_batch(get_object_or_404(Batch, kitchen=here, uuid=batch)))


@require_safe
def of_day(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Labels for everybody's jars of a harvest day."""
    here = kitchen_named(request, kitchen)
    if not can(person(request), here, Deed.LABEL_ANY_JARS):
        raise Http404
    found = get_object_or_404(HarvestDay, kitchen=here, uuid=day)
    found.kitchen = here  # It is read already.
    return _labels(request, here, lots_of_day(found))


@require_safe
def my_shelf(request: HttpRequest, kitchen: str) -> HttpResponse:
    """A member's own jars: what to use first, and what is on hold."""
    here, me = kitchen_named(request, kitchen), person(request)
    return _shelf(request, here, shelved_in(here, me), whole=False)


@require_safe
def whole_shelf(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Everybody's jars, for the lead."""
    here = kitchen_named(request, kitchen)
    if not can(person(request), here, Deed.SEE_SHELF):
        raise Http404
    return _shelf(request, here, shelved_in(here), whole=True)


@require_safe
def find_lot(request: HttpRequest, kitchen: str) -> HttpResponse:
    """A lot by its code as it was read aloud; the lots of a load by the load's code."""
    here, me = kitchen_named(request, kitchen), person(request)
    said = request.GET.get("code", "").strip()
    found = seen_by(me, here, lots_named(here, said)) if said else []
    if len(found) == 1:
        return redirect("labels:lot", here.slug, found[0].code)
    context = {"kitchen": here, "said": said, "lots": found, "caution": CAUTION}
    return render(request, "labels/find.html", context, status=404 if said and not found else 200)


@require_safe
def scanned(request: HttpRequest, code: str) -> HttpResponse:
    """Where the code on a jar leads: the lot's page in its kitchen, for who may see it."""
    me = person(request)
    for here in kitchens_of(me):
        for found in seen_by(me, here, lots_named(here, code)):
            if found.code == code:
                return redirect("labels:lot", here.slug, found.code)
    raise Http404


@require_safe
def lot(request: HttpRequest, kitchen: str, code: str) -> HttpResponse:
    """All that is known of a lot: back to what was brought, forward to where its jars went."""
    here, me = kitchen_named(request, kitchen), person(request)
    return _traced(request, _lot(here, me, code), me, MoveForm(), 200)


@require_POST
def move(request: HttpRequest, kitchen: str, code: str) -> HttpResponse:
    """Note that jars left the shelf, or came back."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _lot(here, me, code), MoveForm(request.POST)
    if not form.is_valid():
        return _traced(request, found, me, form, 422)
    given = form.cleaned_data
    try:
        noted = move_jars(
            portion=found.portion,
            kind=MoveKind(given["kind"]),
            jars=given["jars"],
            note=given["note"],
            by=me,
        )
    except KitchenError as refusal:
        form.add_error(None, str(refusal))
        return _traced(request, found, me, form, 422)
    messages.success(request, f"Noted: {noted.jars}, {noted.get_kind_display().lower()}.")
    return redirect("labels:lot", here.slug, found.code)


@require_POST
def again(request: HttpRequest, kitchen: str, code: str) -> HttpResponse:
    """Note as which lot unsealed jars were processed again."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = _lot(here, me, code), AgainForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose the lot that these jars have become.")
        return redirect("labels:lot", here.slug, found.code)
    later = _lot(here, me, form.cleaned_data["code"])
    try:
        note_reprocess(portion=found.portion, again=later.portion, by=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Noted: they carry lot {later.code} from now on.")
    return redirect("labels:lot", here.slug, found.code)


def _labels(request: HttpRequest, here: Kitchen, lots: Sequence[Lot]) -> HttpResponse:
    me = person(request)
    mine = labelled_by(me, here, lots)
    if lots and not mine:
        raise Http404
    told = rows(mine, timezone.now().astimezone(here.zone).date())
    ready = [row.lot for row in told if row.why_not is None]
    asked = "sheet" in request.GET
    form = LabelsForm(ready, request.GET if asked else None)
    form.initial["sheet"] = first_sheet(here)
    if ready and asked and form.is_valid():
        try:
            return _pdf(form)
        except KitchenError as refusal:
            form.add_error(None, str(refusal))
    context = {
        "kitchen": here,
        "form": form,
        "rows": told,
        "ready": ready,
        "nameless": nameless(ready),
        "caution": CAUTION,
    }
    return render(request, "labels/labels.html", context, status=422 if form.errors else 200)


def _pdf(form: LabelsForm) -> HttpResponse:
    given = form.cleaned_data
    copies = [
        Copies(words=label_of(lot, with_name=given["with_name"]), count=count)
        for lot, count in form.wanted()
        if count
    ]
    made = sheets_pdf(copies, sheet_named(given["sheet"]), start=given["start"], outlines=given["outlines"])
    response = HttpResponse(made, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="labels-{copies[0].words.lot}.pdf"'
    return response


def _shelf(request: HttpRequest, here: Kitchen, shelved: Sequence[Shelved], *, whole: bool) -> HttpResponse:
    today = timezone.now().astimezone(here.zone).date()
    context = {
        "kitchen": here,
        "lists": shelf_piece(here, shelved, today, whole=whole),
        "whole": whole,
        "leads": can(person(request), here, Deed.SEE_SHELF),
        "caution": CAUTION,
    }
    return render(request, "labels/shelf.html", context)


def _lot(here: Kitchen, me: User, code: str) -> Lot:
    found = [lot for lot in seen_by(me, here, lots_named(here, code)) if lot.code == code]
    if not found:
        raise Http404
    return found[0]


def _traced(request: HttpRequest, found: Lot, me: User, form: MoveForm, status: int) -> HttpResponse:
    context = {"kitchen": found.kitchen, "trace": trace_of(found, me), "form": form, "caution": CAUTION}
    return render(request, "labels/lot.html", context, status=status)
