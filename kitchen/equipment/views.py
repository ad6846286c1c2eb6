"""The equipment: what there is, what may be used today, and forms to say so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from kitchen.equipment.actions import (
    add_burner,
    add_canner,
    add_cooling_table,
    add_kettle,
    change_burner,
    change_canner,
    change_cooling_table,
    change_kettle,
    record_gauge_check,
    return_to_service,
    take_out_of_service,
)
from kitchen.equipment.bridge import why_out_of_service
from kitchen.equipment.forms import BurnerForm, CannerForm, GaugeForm, KettleForm, TableForm, WithdrawForm
from kitchen.equipment.models import Burner, Canner, CannerKind, CoolingTable, Kettle
from kitchen.equipment.queries import canners_of, newest_check
from kitchen.errors import KitchenError
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_for, person, today_in
from kitchen.members.rules import Deed, can, check_may


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """A kind of equipment other than canners: its form, and the actions that add and change it."""

    title: str
    model: type[Burner] | type[Kettle] | type[CoolingTable]
    form: type[BurnerForm] | type[KettleForm] | type[TableForm]
    add: Callable[..., object]
    change: Callable[..., object]
    argument: str


THINGS = {
    "burners": Thing(
        title="Burner", model=Burner, form=BurnerForm, add=add_burner, change=change_burner, argument="burner"
    ),
    "kettles": Thing(
        title="Kettle", model=Kettle, form=KettleForm, add=add_kettle, change=change_kettle, argument="kettle"
    ),
    "tables": Thing(
        title="Cooling table",
        model=CoolingTable,
        form=TableForm,
        add=add_cooling_table,
        change=change_cooling_table,
        argument="table",
    ),
}


@require_safe
def everything(request: HttpRequest, kitchen: str) -> HttpResponse:
    """All of it, with the reason where a canner may not be used today."""
    here = kitchen_for(request, kitchen, Deed.RECORD_GAUGE_CHECK)
    today = today_in(here)
    canners = [(one, why_out_of_service(one, today), newest_check(one, today)) for one in canners_of(here)]
    context = {
        "kitchen": here,
        "canners": canners,
        "burners": here.burners.all(),
        "kettles": here.kettles.select_related("burner"),
        "tables": here.cooling_tables.all(),
        "leads": can(person(request), here, Deed.CHANGE_EQUIPMENT),
    }
    return render(request, "equipment/everything.html", context)


def new_thing(request: HttpRequest, kitchen: str, what: str) -> HttpResponse:
    """Another burner, kettle or cooling table."""
    here, thing = kitchen_for(request, kitchen, Deed.CHANGE_EQUIPMENT), _thing(what)
    form = thing.form(request.POST or None, kitchen=here)
    return _answered(request, here, thing, form, lambda given: thing.add(kitchen=here, **given))


def one_thing(request: HttpRequest, kitchen: str, what: str, thing: UUID) -> HttpResponse:
    """What is known of one of them, to be corrected."""
    here, kind = kitchen_for(request, kitchen, Deed.CHANGE_EQUIPMENT), _thing(what)
    row = get_object_or_404(kind.model._default_manager, kitchen=here, uuid=thing)
    form = kind.form(request.POST or None, kitchen=here, row=row)  # type: ignore[arg-type]  # of the same kind
    return _answered(request, here, kind, form, lambda given: kind.change(**{kind.argument: row}, **given))


def new_canner(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Another canner."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_EQUIPMENT)
    form, refusal = CannerForm(request.POST or None, kitchen=here), None
    if request.method == "POST" and form.is_valid():
        try:
            canner = add_canner(kitchen=here, actor=person(request), **form.given())  # type: ignore[arg-type]
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(request, "Noted.")
            return redirect("equipment:canner", here.slug, canner.uuid)
    context = {"kitchen": here, "form": form, "refusal": refusal, "burners": here.burners.exists()}
    return render(request, "equipment/new_canner.html", context, status=_status(form, refusal))


def one_canner(request: HttpRequest, kitchen: str, canner: UUID) -> HttpResponse:
    """A canner: whether it may be used today, its gauge checks, and for a lead what is known of it."""
    here = kitchen_for(request, kitchen, Deed.RECORD_GAUGE_CHECK)
    row = _canner(here, canner)
    if request.method != "POST":
        return _shown(request, here, row)
    check_may(person(request), here, Deed.CHANGE_EQUIPMENT)
    form = CannerForm(request.POST, kitchen=here, row=row)
    if not form.is_valid():
        return _shown(request, here, row, form=form)
    changes = {name: value for name, value in form.given().items() if getattr(row, name) != value}
    return _done(
        request,
        here,
        row,
        form,
        lambda: changes and change_canner(canner=row, changes=changes, actor=person(request)),
    )


@require_POST
def check_gauge(request: HttpRequest, kitchen: str, canner: UUID) -> HttpResponse:
    """A check of its dial gauge (rule S8)."""
    here = kitchen_for(request, kitchen, Deed.RECORD_GAUGE_CHECK)
    row, form = _canner(here, canner), GaugeForm(request.POST)
    if not form.is_valid():
        return _shown(request, here, row, gauge=form)
    given = form.cleaned_data
    return _done(
        request, here, row, None, lambda: record_gauge_check(canner=row, actor=person(request), **given)
    )


@require_POST
def withdraw(request: HttpRequest, kitchen: str, canner: UUID) -> HttpResponse:
    """It must not be used; whoever stands at it may say so."""
    here = kitchen_for(request, kitchen, Deed.RECORD_GAUGE_CHECK)
    row, form = _canner(here, canner), WithdrawForm(request.POST)
    if not form.is_valid():
        return _shown(request, here, row, withdraw=form)
    reason = form.cleaned_data["reason"]
    return _done(
        request,
        here,
        row,
        None,
        lambda: take_out_of_service(canner=row, reason=reason, actor=person(request)),
    )


@require_POST
def give_back(request: HttpRequest, kitchen: str, canner: UUID) -> HttpResponse:
    """It may be used again."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_EQUIPMENT)
    row = _canner(here, canner)
    return _done(request, here, row, None, lambda: return_to_service(canner=row, actor=person(request)))


def _answered(
    request: HttpRequest,
    here: Kitchen,
    thing: Thing,
    form: forms.Form,
    press: Callable[[dict[str, object]], object],
) -> HttpResponse:
    refusal: KitchenError | None = None
    if request.method == "POST" and form.is_valid():
        try:
            press(form.cleaned_data | {"actor": person(request)})
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(request, "Noted.")
            return redirect("equipment:everything", here.slug)
    context = {"kitchen": here, "thing": thing, "form": form, "refusal": refusal}
    return render(request, "equipment/thing.html", context, status=_status(form, refusal))


def _done(
    request: HttpRequest, here: Kitchen, row: Canner, form: CannerForm | None, press: Callable[[], object]
) -> HttpResponse:
    try:
        press()
    except KitchenError as refusal:
        return _shown(request, here, _canner(here, row.uuid), form=form, refusal=refusal)
    messages.success(request, "Noted.")
    return redirect("equipment:canner", here.slug, row.uuid)


def _shown(
    request: HttpRequest,
    here: Kitchen,
    row: Canner,
    *,
    form: CannerForm | None = None,
    gauge: GaugeForm | None = None,
    withdraw: WithdrawForm | None = None,
    refusal: KitchenError | None = None,
) -> HttpResponse:
    today = today_in(here)
    context = {
        "kitchen": here,
        "canner": row,
        "why_not": why_out_of_service(row, today),
        "checks": row.gauge_checks.all()[:20],
        "has_dial": row.kind == CannerKind.DIAL,
        "form": form or CannerForm(kitchen=here, row=row),
        "gauge": gauge or GaugeForm(initial={"checked_on": today}),
        "withdraw": withdraw or WithdrawForm(),
        "refusal": refusal,
        "leads": can(person(request), here, Deed.CHANGE_EQUIPMENT),
    }
    refused = any(one is not None for one in (form, gauge, withdraw, refusal))
    return render(request, "equipment/canner.html", context, status=422 if refused else 200)


def _status(form: forms.Form, refusal: KitchenError | None) -> int:
    return 422 if refusal is not None or form.errors else 200


def _thing(what: str) -> Thing:
    if what not in THINGS:
        raise Http404
    return THINGS[what]


def _canner(here: Kitchen, canner: UUID) -> Canner:
    return get_object_or_404(canners_of(here), uuid=canner)
