"""Booking another process for jars that did not seal: the next time that fits, and one press."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from kitchen.errors import BadTime, KitchenError
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import kitchen_named, person
from kitchen.members.queries import members_of, who_may_watch
from kitchen.planning.models import LoadPortion
from kitchen.reminders.links import read_link
from kitchen.reminders.words import REFRIGERATE, SAME_PROCESS
from kitchen.reprocess.actions import book_again
from kitchen.reprocess.bridge import CAUTION, Ways, ways_for
from kitchen.reprocess.queries import booking_of, loads_again
from kitchen.reprocess.rules import ASK_THE_LEAD, deadline_of, process_starts
from kitchen.seals.models import OfferState, ReprocessOffer
from kitchen.seals.rules import can_count, check_in_time


@login_not_required  # The signature in the link names the person, as for the seal check itself.
@require_http_methods(["GET", "HEAD", "POST"])
def by_link(request: HttpRequest, token: str) -> HttpResponse:
    """The page as the reminder's link leads to it. Opening it changes nothing."""
    link = read_link(token)
    response = _again(request, link.portion, link.user)
    response.headers["X-Robots-Tag"] = "noindex"  # The address is a key.
    return response


@require_http_methods(["GET", "HEAD", "POST"])
def by_member(request: HttpRequest, kitchen: str, portion: UUID) -> HttpResponse:
    """The page for a person who is signed in."""
    here, me = kitchen_named(request, kitchen), person(request)
    portions = LoadPortion.objects.select_related(
        "batch__member", "batch__kitchen", "load__harvest_day__kitchen", "load__canner"
    )
    found = portions.filter(uuid=portion, load__harvest_day__kitchen=here).first()
    if found is None or not can_count(me, found):
        raise Http404
    return _again(request, found, me)


def _again(request: HttpRequest, portion: LoadPortion, user: User) -> HttpResponse:
    offers = ReprocessOffer.objects.select_related("portion__batch__kitchen", "portion__batch__member")
    offer = offers.select_related("portion__load__harvest_day__kitchen").filter(portion=portion).first()
    if offer is None:
        raise Http404
    kitchen = portion.load.harvest_day.kitchen
    refusal: KitchenError | None = None
    if request.method == "POST":
        try:
            book_again(
                offer=offer,
                key=request.POST.get("way", ""),
                actor=user,
                watcher=_watcher(kitchen, request.POST.get("watcher", "")),
            )
        except KitchenError as refused:
            refusal = refused
        else:
            return redirect(request.path)
    context = _context(offer, kitchen) | {"refusal": refusal, "back": _back(request.path)}
    return render(request, "reprocess/again.html", context, status=422 if refusal else 200)


def _context(offer: ReprocessOffer, kitchen: Kitchen) -> dict[str, object]:
    now, booked = timezone.now(), booking_of(offer)
    ways = _ways(offer) if booked is None else None
    way = ways.first if ways is not None else None
    watchers = who_may_watch(kitchen, way.comes_at.astimezone(kitchen.zone).date()) if way is not None else []
    member = offer.portion.batch.member_id
    return {
        "kitchen": kitchen,
        "portion": offer.portion,
        "offer": offer,
        "deadline": deadline_of(offer),
        "late": now >= deadline_of(offer),
        "booked": booked,
        "loads": [(load, process_starts(load)) for load in loads_again(booked)] if booked else [],
        "ways": ways,
        "way": way,
        "watchers": [] if any(one.user_id == member for one in watchers) else watchers,
        "nobody_watches": way is not None and not watchers,
        "same_process": SAME_PROCESS,
        "refrigerate": REFRIGERATE,
        "ask_the_lead": ASK_THE_LEAD,
        "caution": CAUTION,
    }


def _ways(offer: ReprocessOffer) -> Ways | None:
    """What fits now; None when nothing is left to decide."""
    now = timezone.now()
    try:
        check_in_time(offer, now)
    except BadTime:
        return None
    return ways_for(offer, now) if offer.state == OfferState.OPEN else None


def _back(path: str) -> str:
    """The seal check that this page stands beside."""
    return path.removesuffix("again/") if path.endswith("/") else path.removesuffix("/again")


def _watcher(kitchen: Kitchen, chosen: str) -> User | None:
    found = members_of(kitchen).filter(user_id=int(chosen)).first() if chosen.isdecimal() else None
    return found.user if found is not None else None
