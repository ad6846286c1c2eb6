"""Booking canner time: three fields, a list of times, one that is held, and a second press that books it."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from kitchen.batches.bridge import weigh
from kitchen.batches.models import Slot
from kitchen.booking.actions import ChosenTime, book_hold, cancel_booking, hold_time, let_go, wanted_of
from kitchen.booking.bridge import CAUTION, Wanted, not_offered, offer_at, offers, why_not_on
from kitchen.booking.forms import WantedForm
from kitchen.booking.mine_piece import mine_piece
from kitchen.booking.models import Hold, Waiting
from kitchen.booking.queries import Booked, bookings_of, bookings_of_others, looked_at, others_in, waits_of
from kitchen.booking.rules import check_age, check_group
from kitchen.booking.waiting import stop_waiting, wait_for
from kitchen.equipment.models import Canner
from kitchen.errors import BadIntake, BadTime, KitchenError
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import kitchen_named, person
from kitchen.members.queries import members_of, who_may_watch
from kitchen.members.rules import Deed, can, check_may_for
from kitchen.prepared import prepared


def page(request: HttpRequest, kitchen: str) -> HttpResponse:
    """What to can, the times that fit, and the times that I booked."""
    return _asked(request, kitchen_named(request, kitchen), None)


def change(request: HttpRequest, kitchen: str, slot: UUID) -> HttpResponse:
    """The same, for another time in the place of one that is booked."""
    here = kitchen_named(request, kitchen)
    return _asked(request, here, _slot_named(request, here, slot))


@require_POST
def cancel(request: HttpRequest, kitchen: str, slot: UUID) -> HttpResponse:
    """Give a booked time back."""
    here, me = kitchen_named(request, kitchen), person(request)
    try:
        cancel_booking(slot=_slot_named(request, here, slot), actor=me)
        messages.success(request, "Cancelled. The canner is free for others.")
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    return redirect("booking:page", here.slug)


def held(request: HttpRequest, kitchen: str, hold: UUID) -> HttpResponse:
    """The time that is held, in full; a press books it."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = _hold_named(request, here, hold)
    context: dict[str, object] = {}
    if request.method == "POST":
        try:
            slot = book_hold(hold=found, actor=me, watcher=_watcher(here, request.POST.get("watcher", "")))
            starts_at = slot.canner_time.starts_at.astimezone(here.zone)
            messages.success(request, f"Booked: {slot.canner_time.canner}, {starts_at:%A %-d %B, %H:%M}.")
            return redirect("booking:page", here.slug)
        except KitchenError as refusal:
            context["refusal"] = refusal
    elif found.slot_id is not None or found.let_go_at is not None:
        return redirect("booking:page", here.slug)
    context |= _held_shown(here, found)
    return render(request, "booking/held.html", context, status=422 if "refusal" in context else 200)


@require_POST
def stop(request: HttpRequest, kitchen: str, waiting: UUID) -> HttpResponse:
    """Wait no longer for a full day."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = get_object_or_404(Waiting.objects.select_related("member"), kitchen=here, uuid=waiting)
    _check_mine(request, here, found.member)
    stop_waiting(waiting=found, actor=me)
    messages.success(request, "You no longer wait for that day.")
    return redirect("booking:page", here.slug)


@require_POST
def release(request: HttpRequest, kitchen: str, hold: UUID) -> HttpResponse:
    """Let a held time go."""
    here, me = kitchen_named(request, kitchen), person(request)
    let_go(hold=_hold_named(request, here, hold), actor=me)
    messages.success(request, "That time is free again.")
    return redirect("booking:page", here.slug)


def _asked(request: HttpRequest, here: Kitchen, moved: Slot | None) -> HttpResponse:
    me, now = person(request), timezone.now()
    leads = can(me, here, Deed.ACT_FOR_OTHERS)
    members = others_in(here, me) if leads and moved is None else ()
    today = now.astimezone(here.zone).date()
    form = WantedForm(request.POST or None, kitchen=here, today=today, others=members)
    context: dict[str, object] = {
        "kitchen": here,
        "form": form,
        "moved": moved,
        "caution": CAUTION,
    }
    if request.method == "POST" and form.is_valid():
        member = _member(here, form, moved) or me
        try:
            hold = _answer(request, here, member, moved, form, context, now)
        except KitchenError as refusal:
            context["refusal"] = refusal
            context["published"] = refusal.published if isinstance(refusal, BadIntake) else ()
        else:
            if hold is not None:
                return redirect("booking:held", here.slug, hold.uuid)
    if moved is None:
        slots, others = _booked(here, me, now, everybody=leads)
        waiting = waits_of(me, here, today)
        context["mine"] = mine_piece(get_token(request), here, slots, others, waiting, now)
    status = 422 if "refusal" in context or form.errors else 200
    return render(request, "booking/page.html", context, status=status)


def _booked(here: Kitchen, me: User, now: datetime, *, everybody: bool) -> tuple[list[Booked], list[Booked]]:
    """One's own bookings and, where asked, those of everybody else, looked at together."""
    mine = bookings_of(me, here, now)
    others = bookings_of_others(me, here, now) if everybody else []
    known = looked_at([*mine, *others], here)
    return known[: len(mine)], known[len(mine) :]


def _answer(
    request: HttpRequest,
    here: Kitchen,
    member: User,
    moved: Slot | None,
    form: WantedForm,
    context: dict[str, object],
    now: datetime,
) -> Hold | None:
    """The hold that a press asked for, or None with the times in ``context``."""
    wanted, first = form.wanted(), form.cleaned_data["day"]
    check_may_for(person(request), member, here, Deed.BOOK_SLOT)
    check_group(here, wanted.people)
    check_age(here, member)
    context["makes"] = weigh(
        kitchen=here,
        food=wanted.food_id,
        pack=wanted.pack,
        jar=wanted.jar,
        amount=form.cleaned_data["jars"],
        unit="jars",
    )
    refusal: KitchenError | None = None
    if request.POST.get("time"):
        try:
            return _hold_chosen(request, here, member, moved, wanted, request.POST["time"])
        except KitchenError as refused:
            refusal = refused  # Named above the times that are left.
    found = offers(here, member, wanted, first, now)
    is_full = not any(one.comes_at.astimezone(here.zone).date() == first for one in found)
    context |= {"offers": found, "asked": True, "not_offered": not_offered(here, first)}
    context["full_day"] = first if is_full and moved is None else None
    context["hindrances"] = why_not_on(here, member, wanted, first, now) if is_full else ()
    if "wait" in request.POST:
        wait_for(kitchen=here, member=member, wanted=wanted, day=first, actor=person(request), now=now)
        messages.success(request, f"You will be told when a time comes free on {first:%A %-d %B}.")
        return None
    if refusal is not None:
        raise refusal
    if "first" in request.POST and found:
        return _hold_chosen(request, here, member, moved, wanted, found[0].key)
    return None


def _hold_chosen(
    request: HttpRequest, here: Kitchen, member: User, moved: Slot | None, wanted: Wanted, key: str
) -> Hold:
    try:
        canner_id, *moments = key.split("|")
        arrives_at, starts_at, ends_at = map(datetime.fromisoformat, moments)
        canner = here.canners.get(uuid=UUID(canner_id))
    except (ValueError, Canner.DoesNotExist) as error:
        raise BadTime("That is no time of this list.", remedy="Choose one of the times.") from error
    return hold_time(
        kitchen=here,
        member=member,
        wanted=wanted,
        chosen=ChosenTime(canner=canner, arrives_at=arrives_at, starts_at=starts_at, ends_at=ends_at),
        replaces=moved,
        actor=person(request),
    )


def _held_shown(here: Kitchen, hold: Hold) -> dict[str, object]:
    now, time = timezone.now(), hold.canner_time
    day = hold.comes_at.astimezone(here.zone).date()
    may_watch = who_may_watch(here, day)
    offer = offer_at(here, hold.member, wanted_of(hold), time.canner, hold.arrives_at, now, without=[time])
    return {
        "kitchen": here,
        "hold": hold,
        "offer": offer,
        "lapsed": time.held_until is not None and time.held_until <= now,
        "watchers": () if any(one.user_id == hold.member_id for one in may_watch) else may_watch,
        "member_watches": any(one.user_id == hold.member_id for one in may_watch),
        "caution": CAUTION,
    }


def _member(here: Kitchen, form: WantedForm, moved: Slot | None) -> User | None:
    if moved is not None:
        return moved.member
    chosen = form.cleaned_data.get("member")
    found = members_of(here).filter(user__uuid=chosen).first() if chosen else None
    return found.user if found else None


def _watcher(here: Kitchen, chosen: str) -> User | None:
    if not chosen.isdecimal():
        return None
    found = members_of(here).filter(user_id=int(chosen)).first()
    return found.user if found else None


def _slot_named(request: HttpRequest, here: Kitchen, slot: UUID) -> Slot:
    rows = Slot.objects.select_related("canner_time__canner", "batch", "kitchen", "member")
    found = get_object_or_404(rows, kitchen=here, uuid=slot)
    _check_mine(request, here, found.member)
    return found


def _hold_named(request: HttpRequest, here: Kitchen, hold: UUID) -> Hold:
    found = _holds.first(here, hold)
    if found is None:
        raise Http404
    _check_mine(request, here, found.member)
    return found


@prepared
def _holds(kitchen: Kitchen, uuid: UUID) -> QuerySet[Hold]:
    rows = Hold.objects.filter(kitchen=kitchen, uuid=uuid)
    return rows.select_related("canner_time__canner", "kitchen", "member")


def _check_mine(request: HttpRequest, here: Kitchen, member: User) -> None:
    """Another member's booking is not found, but by a lead."""
    me = person(request)
    if me != member and not can(me, here, Deed.ACT_FOR_OTHERS):
        raise Http404
