"""A member's own pages: home, intake and notices."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.batches.actions import cancel_batch, declare_batch
from kitchen.batches.bridge import Line, food_choices, kinds_in_use, process_lines, weigh
from kitchen.batches.forms import IntakeForm
from kitchen.batches.models import Batch
from kitchen.batches.rules import check_stay
from kitchen.errors import BadIntake, KitchenError
from kitchen.home.bridge import CAUTION
from kitchen.home.missing import missing_in
from kitchen.home.notices import notices_piece
from kitchen.home.own import batches_piece, jars_piece, shifts_piece, slots_piece
from kitchen.home.queries import (
    booked_shown,
    days_shown,
    feeds,
    given_up,
    has_clash,
    on_hold,
    to_count,
    to_count_by,
    to_sign,
    unseen_notices,
)
from kitchen.home.start_pieces import book_piece, days_piece, running_piece
from kitchen.home.waiting import count_piece, hold_piece
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_named, person, wall_time
from kitchen.members.queries import confirmed_process_keys, kitchens_of
from kitchen.members.rules import Deed, can
from kitchen.planning.queries import harvest_days
from kitchen.reminders.actions import see_notice
from kitchen.reminders.models import Notice
from kitchen.reminders.queries import newest_notices

# What is older waits on the lead's list of records to review only.
_SIGN_WITHIN = timedelta(days=14)


@require_safe
def front(request: HttpRequest) -> HttpResponse:
    """The kitchens a person belongs to; straight in when there is only one."""
    kitchens = list(kitchens_of(person(request)))
    if len(kitchens) == 1:
        return redirect("home:kitchen", kitchens[0].slug)
    return render(request, "home/front.html", {"kitchens": kitchens})


@require_safe
def kitchen(request: HttpRequest, kitchen: str) -> HttpResponse:
    """What is mine in this kitchen, and what waits for me."""
    here, me = kitchen_named(request, kitchen), person(request)
    now = timezone.now()
    since, today = now - timedelta(days=1), now.astimezone(here.zone).date()
    runs, leads = can(me, here, Deed.RUN_LOAD), can(me, here, Deed.DECIDE_HOLD)
    return render(
        request,
        "home/kitchen.html",
        {
            "kitchen": here,
            "days": days_piece(here, days_shown(here), leads=leads),
            "batches": batches_piece(here, me),
            "jars": jars_piece(here, me),
            "shifts": shifts_piece(here, me, since),
            "slots": slots_piece(here, me, since),
            "running": running_piece(here, booked_shown(here, today), leads=leads) if runs else None,
            "to_count": count_piece(here, to_count(here) if runs else to_count_by(me, here)),
            "on_hold": hold_piece(here, on_hold(here)) if leads else None,
            "given_up": given_up(here) if leads else (),
            "to_sign": to_sign(here, me, now - _SIGN_WITHIN, booked_only=not runs),
            "unseen": unseen_notices(me, here),
            "clashes": has_clash(me, here, now),
            "feeds": feeds(me, here),
            "book": book_piece(get_token(request), here, today),
            "missing": missing_in(here, today) if leads else (),
            "caution": CAUTION,
        },
    )


def intake(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """What I will bring: first the estimate, then, on a second press, it is noted."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = get_object_or_404(harvest_days(), kitchen=here, uuid=day)
    zone = here.zone
    hours = IntakeForm.hours(found.opens_at.astimezone(zone).time(), found.closes_at.astimezone(zone).time())
    form = IntakeForm(request.POST or None, initial=hours)
    context: dict[str, object] = {
        "kitchen": here,
        "day": found,
        "form": form,
        "foods": food_choices(),
        "caution": CAUTION,
    }
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            arrives_at, picks_up_at = (
                wall_time(here, found.date, given[name]) for name in ("arrives", "picks_up")
            )
            what = {name: given[name] for name in ("food", "pack", "jar", "amount", "unit")}
            if "note" in request.POST:
                batch = declare_batch(
                    kitchen=here,
                    member=me,
                    arrives_at=arrives_at,
                    picks_up_at=picks_up_at,
                    actor=me,
                    harvest_day_id=found.pk,
                    **what,
                )
                messages.success(request, f"Noted: {batch.jars} jars of {batch.food_name}.")
                return redirect("home:kitchen", here.slug)
            check_stay(arrives_at, picks_up_at)
            makes = weigh(kitchen=here, **what)
            context |= {"estimate": makes, "lines": _lines(here, makes.food_id, given["pack"], given["jar"])}
        except KitchenError as refusal:
            context["refusal"] = refusal
            context["published"] = refusal.published if isinstance(refusal, BadIntake) else ()
    status = 200 if "refusal" not in context and not form.errors else 422
    return render(request, "home/intake.html", context, status=status)


@require_POST
def withdraw(request: HttpRequest, kitchen: str, batch: UUID) -> HttpResponse:
    """Take back a batch that is not planned yet."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = get_object_or_404(Batch, kitchen=here, uuid=batch)
    try:
        cancel_batch(batch=found, actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    return redirect("home:kitchen", here.slug)


@require_safe
def notices(request: HttpRequest, kitchen: str) -> HttpResponse:
    """My notices, newest first, worded for now."""
    here, me = kitchen_named(request, kitchen), person(request)
    told = notices_piece(get_token(request), here, newest_notices(me, here), timezone.now())
    return render(request, "home/notices.html", {"kitchen": here, "notices": told, "caution": CAUTION})


@require_POST
def seen(request: HttpRequest, kitchen: str, notice: int) -> HttpResponse:
    """Put a notice away as read."""
    here, me = kitchen_named(request, kitchen), person(request)
    see_notice(notice=get_object_or_404(Notice, pk=notice, recipient=me), actor=me)
    return redirect("home:notices", here.slug)


def _lines(kitchen: Kitchen, food: str, pack: str, jar: str) -> list[Line]:
    return process_lines(
        food=food,
        pack=pack,
        jar=jar,
        kinds=kinds_in_use(kitchen),
        altitude_ft=kitchen.altitude_ft,
        confirmed=confirmed_process_keys(kitchen),
    )
