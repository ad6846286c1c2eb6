"""Bringing many things at once: a table is looked at row by row, then one press notes what is fine."""

from __future__ import annotations

from hashlib import sha256
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from kitchen.batches.bringing import bring_table
from kitchen.batches.forms import TableForm
from kitchen.batches.intake_rows import HEADINGS, Row, read_rows
from kitchen.batches.sheet import MOST_BYTES, MOST_ROWS
from kitchen.errors import KitchenError
from kitchen.home.bridge import CAUTION
from kitchen.language.said import said
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_for, person
from kitchen.members.rules import Deed, can
from kitchen.planning.models import HarvestDay
from kitchen.planning.queries import harvest_days

_DIGITS = 6  # No table has a row with so long a number.


@require_http_methods(["GET", "HEAD", "POST"])
def table(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Look at a table, each row with its problems; a press notes the rows that were fine then and are fine now."""
    here = kitchen_for(request, kitchen, Deed.DECLARE_BATCH)
    me, found = person(request), get_object_or_404(harvest_days(), kitchen=here, uuid=day)
    for_others = can(me, here, Deed.ACT_FOR_OTHERS)
    form = TableForm(request.POST or None, request.FILES or None)
    context: dict[str, object] = {
        "kitchen": here,
        "day": found,
        "form": form,
        "headings": _headings(for_others=for_others),
        "most_rows": MOST_ROWS,
        "most_kb": MOST_BYTES // 1000,
        "for_others": for_others,
        "caution": CAUTION,
    }
    if request.method != "POST" or not form.is_valid():
        return render(request, "home/intake_table.html", context, status=422 if form.errors else 200)
    try:
        text = form.text()
        context["form"] = TableForm(initial={"table": text})
        context["rows"] = read_rows(kitchen=here, harvest_day_id=found.pk, text=text, actor=me)
        if _is_the_same(request, text):
            return _noted(request, here, found, text)
    except KitchenError as refusal:
        context["refusal"] = refusal
    return _looked_at(request, context)


def _looked_at(request: HttpRequest, context: dict[str, object]) -> HttpResponse:
    rows = context.get("rows")
    if isinstance(rows, list):
        fine = [row for row in rows if isinstance(row, Row) and not row.problems]
        shown = context["form"]
        text = shown.initial["table"] if isinstance(shown, TableForm) else ""
        context |= {
            "fine": len(fine),
            "wrong": len(rows) - len(fine),
            "numbers": " ".join(str(row.number) for row in fine),
            "looked_at": _digest(text),
        }
    return render(request, "home/intake_table.html", context, status=422 if "refusal" in context else 200)


def _noted(request: HttpRequest, here: Kitchen, day: HarvestDay, text: str) -> HttpResponse:
    """Note the rows that were shown as fine."""
    numbers = frozenset(
        int(one) for one in request.POST.get("numbers", "").split() if one.isdecimal() and len(one) < _DIGITS
    )
    made = bring_table(
        kitchen=here, harvest_day_id=day.pk, text=text, actor=person(request), looked_at=numbers
    )
    words = ngettext("%(count)s row is noted.", "%(count)s rows are noted.", len(made)) % {"count": len(made)}
    messages.success(request, words)
    return redirect("home:kitchen", here.slug)


def _is_the_same(request: HttpRequest, text: str) -> bool:
    """True when this is the press under the very rows that were looked at; other rows are looked at first."""
    return "note" in request.POST and request.POST.get("looked_at") == _digest(text)


def _headings(*, for_others: bool) -> str:
    """The first row of a table, as the reader says it."""
    return ";".join(said(label) for name, label in HEADINGS.items() if name != "member" or for_others)


def _digest(text: str) -> str:
    """Of the rows, however a browser ends its lines."""
    return sha256("\n".join(text.splitlines()).encode(errors="replace")).hexdigest()
