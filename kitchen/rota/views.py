"""The rota's pages: what is mine and what I could take, who is where, and a lead's changes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.members.pages import kitchen_named, person, wall_time
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed, can, check_may
from kitchen.planning.models import DayState, HarvestDay
from kitchen.rota.actions import (
    give_back,
    hand_over,
    take,
    want_helpers,
    want_no_more,
)
from kitchen.rota.board import attendance_piece, hours_piece, seats_of, shifts_piece
from kitchen.rota.bridge import CAUTION
from kitchen.rota.day_piece import my_day_piece
from kitchen.rota.forms import HoursForm, PersonForm, WantedForm
from kitchen.rota.models import Station
from kitchen.rota.pages import (
    day_named,
    my_day,
    shift_named,
)
from kitchen.rota.queries import shifts_wanted
from kitchen.rota.shortage import shortages

_A_SHIFT = timedelta(hours=2)


@require_safe
def mine(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """My day: my hours, my shifts, what I could take and what others offer me."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, now = day_named(here, day), timezone.now()
    mine, open_still = my_day(found, me, now), found.state != DayState.CLOSED
    context = {
        "kitchen": here,
        "day": found,
        "open": open_still,
        "hours": mine.hours,
        "hours_form": HoursForm(initial=_whole_day(found)),
        "my_day": my_day_piece(found, mine, open_still=open_still),
        "caution": CAUTION,
    }
    return render(request, "rota/mine.html", context)


@require_safe
def everybody(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Who is where, by station and hour. A lead changes it from here."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, now = day_named(here, day), timezone.now()
    lead = can(me, here, Deed.ASK_FOR_HELPERS) and found.state != DayState.CLOSED
    seats = seats_of(found)
    context = {
        "kitchen": here,
        "day": found,
        "lead": lead,
        "any_seats": bool(seats),
        "hours": hours_piece(found, seats),
        "shifts": shifts_piece(found, seats, lead=lead),
        "missing": shortages(shifts_wanted(found, now), now),
        "there": attendance_piece(found),
        "wanted_form": WantedForm(initial=_first_hours(found)) if lead else None,
        "caution": CAUTION,
    }
    return render(request, "rota/everybody.html", context)


@require_POST
def want(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """A lead asks for helpers."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = day_named(here, day), WantedForm(request.POST)
    check_may(me, here, Deed.ASK_FOR_HELPERS)
    if form.is_valid():
        given = form.cleaned_data
        try:
            wanted = want_helpers(
                harvest_day=found,
                station=Station(given["station"]),
                starts_at=wall_time(here, found.date, given["starts"]),
                ends_at=wall_time(here, found.date, given["ends"]),
                count=given["count"],
                actor=me,
            )
        except KitchenError as refusal:
            messages.error(request, str(refusal))
        else:
            number = len(wanted)
            messages.success(
                request, f"{number} open shift{'' if number == 1 else 's'} added. Members see them at once."
            )
    else:
        messages.error(
            request, "That could not be read. Choose a station, both times as 09:30, and how many."
        )
    return redirect("rota:everybody", here.slug, found.uuid)


@require_POST
def take_open(request: HttpRequest, kitchen: str, shift: UUID) -> HttpResponse:
    """Take an open shift."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = shift_named(here, shift)
    done = "It is yours now. It stands below, and in your calendar."
    return _do(request, found.harvest_day, lambda: take(shift=found, actor=me), done)


@require_POST
def back(request: HttpRequest, kitchen: str, shift: UUID) -> HttpResponse:
    """Give my shift back, or as a lead take somebody off one."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = shift_named(here, shift)
    own = found.user_id == me.pk
    done = (
        "Given back: it is an open shift now, and the lead is told."
        if own
        else "The shift is open now, and the person is told."
    )
    page = "rota:mine" if own else "rota:everybody"
    return _do(request, found.harvest_day, lambda: give_back(shift=found, actor=me), done, page)


@require_POST
def to_another(request: HttpRequest, kitchen: str, shift: UUID) -> HttpResponse:
    """A lead puts somebody in a shift."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = shift_named(here, shift)
    check_may(me, here, Deed.ACT_FOR_OTHERS)
    people = {str(one.user_id): one for one in members_of(here)}
    form = PersonForm(request.POST, people=people.values())
    if not form.is_valid():
        messages.error(request, "Choose a person.")
        return redirect("rota:shift", here.slug, found.uuid)
    to = people[form.cleaned_data["to"]].user
    done = f"{to} has this shift now, and is told."
    return _do(
        request,
        found.harvest_day,
        lambda: hand_over(shift=found, to=to, actor=me),
        done,
        "rota:everybody",
    )


@require_POST
def no_more(request: HttpRequest, kitchen: str, shift: UUID) -> HttpResponse:
    """A lead no longer asks for a helper."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = shift_named(here, shift)
    return _do(
        request,
        found.harvest_day,
        lambda: want_no_more(shift=found, actor=me),
        "Nobody is asked for there any more.",
        "rota:everybody",
    )


def _do(
    request: HttpRequest, day: HarvestDay, action: Callable[[], object], done: str, page: str = "rota:mine"
) -> HttpResponse:
    """Do it, say so or why not, and go to the page."""
    try:
        action()
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, done)
    return redirect(page if day.is_harvest else "floor:canners", day.kitchen.slug, day.uuid)


def _first_hours(day: HarvestDay) -> dict[str, object]:
    """A shift of a length that anybody may take, to be moved to where it is needed."""
    zone = day.kitchen.zone
    ends_at = min(day.opens_at + _A_SHIFT, day.closes_at)
    return {"starts": day.opens_at.astimezone(zone).time(), "ends": ends_at.astimezone(zone).time()}


def _whole_day(day: HarvestDay) -> dict[str, object]:
    zone = day.kitchen.zone
    return {"starts": day.opens_at.astimezone(zone).time(), "ends": day.closes_at.astimezone(zone).time()}
