"""Process records: read, signed, reviewed, and taken out as CSV and PDF."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.floor.pages import any_day_named
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_named, person, today_in
from kitchen.members.rules import Deed, can
from kitchen.planning.models import Load
from kitchen.records.actions import review_record, send_back_record, sign_record
from kitchen.records.bridge import CAUTION
from kitchen.records.content import Record, record_of, records_of
from kitchen.records.drawing import records_pdf
from kitchen.records.forms import ReviewForm, SignForm
from kitchen.records.listing import listed_of_day, listed_to_review
from kitchen.records.pages import lines_of, lines_piece, presses_of, sections_piece, state_of
from kitchen.records.queries import ran_it, recorded_loads
from kitchen.records.sheet import sections_of
from kitchen.records.table_file import CONTENT_TYPE, table_of


@require_safe
def of_load(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """The record of a load, and what this person may press under it."""
    here, row = _load_of(request, kitchen, load)
    found = record_of(row)
    context = {
        "kitchen": here,
        "record": found,
        "load": found.load,
        "sections": sections_piece(here, sections_of(found)),
        "state": state_of(found),
        "presses": presses_of(found, person(request)),
        "sign_form": SignForm(initial={"digest": found.digest}, auto_id="sign-%s"),
        "review_form": ReviewForm(initial={"digest": found.digest}, auto_id="review-%s"),
        "caution": CAUTION,
    }
    return render(request, "records/load.html", context)


@require_POST
def sign(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """An operator signs what they wrote."""
    here, found = _load_of(request, kitchen, load)
    form = SignForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("That could not be read. Read the record again, then press again."))
    else:
        given = form.cleaned_data
        try:
            sign_record(load=found, by=person(request), digest=given["digest"], note=given["note"])
        except KitchenError as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(request, _("Signed. A lead reviews the record next."))
    return redirect("records:load", here.slug, found.uuid)


@require_POST
def review(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """A lead has looked at the record: nothing is missing, or it goes back."""
    here = _kitchen(request, kitchen)
    found, form = _load(here, load), ReviewForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("That could not be read. Read the record again, then press again."))
        return redirect("records:load", here.slug, found.uuid)
    given = form.cleaned_data
    back = given["outcome"] == "sent_back"
    act = send_back_record if back else review_record
    try:
        act(load=found, by=person(request), digest=given["digest"], note=given["note"])
    except KitchenError as refusal:
        messages.error(request, str(refusal))
        return redirect("records:load", here.slug, found.uuid)
    messages.success(request, _("Sent back to the operator.") if back else _("Reviewed."))
    return redirect("records:to-review", here.slug)


@require_safe
def load_csv(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """The record of a load as a table."""
    _here, row = _load_of(request, kitchen, load)
    found = record_of(row)
    return _csv([found], found.load.lot_code)


@require_safe
def load_pdf(request: HttpRequest, kitchen: str, load: UUID) -> HttpResponse:
    """The record of a load to be printed and filed."""
    here, row = _load_of(request, kitchen, load)
    found = record_of(row)
    return _pdf([found], here, found.load.lot_code)


@require_safe
def of_day(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """The records of a day, and how far each is."""
    here = _kitchen(request, kitchen)
    found = any_day_named(here, day)
    lines = lines_of(listed_of_day(found), today_in(here))
    context = {
        "kitchen": here,
        "day": found,
        "lines": lines_piece(here, lines) if lines else None,
        "caution": CAUTION,
    }
    return render(request, "records/day.html", context)


@require_safe
def day_csv(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """The records of a day as one table."""
    found = any_day_named(_kitchen(request, kitchen), day)
    return _csv(records_of(recorded_loads(found)), f"{found.date:%Y-%m-%d}")


@require_safe
def day_pdf(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """The records of a day, each on pages of its own."""
    here = _kitchen(request, kitchen)
    found = any_day_named(here, day)
    records = records_of(recorded_loads(found))
    if not records:
        raise Http404
    return _pdf(records, here, f"{found.date:%Y-%m-%d}")


@require_safe
def to_review(request: HttpRequest, kitchen: str) -> HttpResponse:
    """The records that wait for a signature or a review, the oldest first."""
    here = _kitchen(request, kitchen)
    if not can(person(request), here, Deed.REVIEW_RECORD):
        raise Http404
    records, more = listed_to_review(here)
    lines = lines_of(records, today_in(here))
    signed = [line for line in lines if not line.record.to_sign]
    unsigned = [line for line in lines if line.record.to_sign]
    context = {
        "kitchen": here,
        "to_review": lines_piece(here, signed) if signed else None,
        "to_sign": lines_piece(here, unsigned) if unsigned else None,
        "more": more,
        "caution": CAUTION,
    }
    return render(request, "records/to_review.html", context)


def _kitchen(request: HttpRequest, slug: str) -> Kitchen:
    """The kitchen, for whoever may read its records."""
    here = kitchen_named(request, slug)
    if not can(person(request), here, Deed.SEE_RECORDS):
        raise Http404
    return here


def _load(kitchen: Kitchen, uuid: UUID) -> Load:
    return get_object_or_404(Load, harvest_day__kitchen=kitchen, uuid=uuid)


def _load_of(request: HttpRequest, slug: str, uuid: UUID) -> tuple[Kitchen, Load]:
    """A load for whoever may read its record: operators, and those who ran it in canner time that was booked."""
    here, me = kitchen_named(request, slug), person(request)
    found = _load(here, uuid)
    if not can(me, here, Deed.SEE_RECORDS) and not ran_it(me, found):
        raise Http404
    return here, found


def _csv(records: Sequence[Record], name: str) -> HttpResponse:
    response = HttpResponse(table_of(records), content_type=CONTENT_TYPE)
    response["Content-Disposition"] = f'attachment; filename="process-record-{name}.csv"'
    return response


def _pdf(records: Sequence[Record], kitchen: Kitchen, name: str) -> HttpResponse:
    response = HttpResponse(records_pdf(records, kitchen), content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="process-record-{name}.pdf"'
    return response
