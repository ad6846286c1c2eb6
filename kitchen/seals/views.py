"""The seal check: counting sealed, unsealed and broken jars, and what to do with those that did not seal."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kitchen.errors import BadTime, KitchenError, TooEarly
from kitchen.members.models import User
from kitchen.members.pages import kitchen_named, person
from kitchen.planning.models import LoadPortion
from kitchen.reminders.links import read_link
from kitchen.reminders.words import BANDS_OFF, FOUND_LATER, LOOK, PRESS, REFRIGERATE, SAME_PROCESS, TAP
from kitchen.seals.actions import decide_offer, record_seal_check
from kitchen.seals.bridge import CAUTION
from kitchen.seals.forms import CountForm
from kitchen.seals.models import OfferState, ReprocessOffer
from kitchen.seals.queries import standing_check
from kitchen.seals.rules import again_by, can_count, check_time_to_count


@login_not_required  # The signature in the link names the person; it opens this one form and nothing else.
@require_http_methods(["GET", "HEAD", "POST"])
def by_link(request: HttpRequest, token: str) -> HttpResponse:
    """The form as a reminder's link leads to it. Opening it changes nothing."""
    link = read_link(token)
    response = _seal_check(request, link.portion, link.user, reverse("reprocess:by-link", args=[token]))
    response.headers["X-Robots-Tag"] = "noindex"  # The address is a key.
    return response


@require_http_methods(["GET", "HEAD", "POST"])
def by_member(request: HttpRequest, kitchen: str, portion: UUID) -> HttpResponse:
    """The form for a person who is signed in: their own jars, or anybody's for an operator."""
    here, me = kitchen_named(request, kitchen), person(request)
    portions = LoadPortion.objects.select_related(
        "batch__member", "load__harvest_day__kitchen", "load__canner"
    )
    found = portions.filter(uuid=portion, load__harvest_day__kitchen=here).first()
    if found is None or not can_count(me, found):
        raise Http404
    again = reverse("reprocess:by-member", args=[here.slug, found.uuid])
    return _seal_check(request, found, me, again)


def _seal_check(request: HttpRequest, portion: LoadPortion, user: User, again: str) -> HttpResponse:
    """``again`` is where another process is booked for jars that did not seal."""
    correcting = "correct" in request.GET
    form = CountForm(request.POST or None, initial={"correct": correcting})
    refusal: KitchenError | None = None
    if request.POST.get("decide") == "accept":
        return redirect(again)
    if request.method == "POST":
        try:
            done = (
                _decided(request, portion, user)
                if "decide" in request.POST
                else _counted(form, portion, user)
            )
        except KitchenError as refused:
            refusal = refused
        else:
            if done:
                return redirect(request.path)
    status = 422 if request.method == "POST" else 200
    context = _context(portion, correcting=correcting or bool(form.data.get("correct")))
    return render(
        request,
        "seals/check.html",
        {**context, "form": form, "refusal": refusal, "again": again},
        status=status,
    )


def _counted(form: CountForm, portion: LoadPortion, user: User) -> bool:
    if not form.is_valid():
        return False
    given = form.cleaned_data
    record_seal_check(
        portion=portion,
        sealed=given["sealed"],
        unsealed=given["unsealed"],
        broken=given["broken"],
        by=user,
        correct=given["correct"],
    )
    return True


def _decided(request: HttpRequest, portion: LoadPortion, user: User) -> bool:
    offer = ReprocessOffer.objects.filter(portion=portion).first()
    if offer is None:
        raise Http404
    decide_offer(offer=offer, accept=False, actor=user)
    return True


def _context(portion: LoadPortion, *, correcting: bool) -> dict[str, object]:
    load, now = portion.load, timezone.now()
    check, offer = standing_check(portion), ReprocessOffer.objects.filter(portion=portion).first()
    too_early: KitchenError | None = None
    try:
        check_time_to_count(load, now, now)
    except (TooEarly, BadTime) as refused:
        too_early = refused
    deadline = again_by(load, portion) if load.jars_out_at else None
    return {
        "kitchen": load.harvest_day.kitchen,
        "portion": portion,
        "load": load,
        "check": check,
        "counting": too_early is None and (check is None or correcting),
        "correcting": correcting and check is not None,
        "too_early": too_early,
        "offer": offer,
        "offer_open": offer is not None and offer.state == OfferState.OPEN and now < offer.deadline,
        "offer_taken": offer is not None and offer.state == OfferState.BOOKED,
        "deadline": deadline,
        "deadline_open": deadline is not None and now < deadline,
        "bands_off": BANDS_OFF,
        "tests": (PRESS, TAP, LOOK),
        "same_process": SAME_PROCESS,
        "refrigerate": REFRIGERATE,
        "found_later": FOUND_LATER,
        "caution": CAUTION,
    }
