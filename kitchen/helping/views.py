"""A member's page of when and where they can help; a lead may fill in the wishes of anybody."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.helping.actions import follow_address, forget_calendar, read_again, set_wishes, take_file
from kitchen.helping.bridge import CAUTION
from kitchen.helping.forms import AddressForm, FileForm, WishesForm
from kitchen.helping.models import BusyCalendar, Feeling
from kitchen.helping.pages import SHOWN_DAYS, busy_days, clashes_in, membership_named, others_piece
from kitchen.helping.queries import calendars_of, stations_of, wishes_of
from kitchen.members.models import Kitchen, Membership, User
from kitchen.members.pages import kitchen_named, person
from kitchen.members.queries import food_trainings_of, members_of, trained_on, trainings_of
from kitchen.members.rules import Deed, can, check_may


@require_safe
def mine(request: HttpRequest, kitchen: str) -> HttpResponse:
    """My wishes, my calendars, and the busy times found in them."""
    here, me = kitchen_named(request, kitchen), person(request)
    return _page(request, here, me, membership_named(here, me, None))


@require_safe
def of_member(request: HttpRequest, kitchen: str, member: UUID) -> HttpResponse:
    """A member's wishes, for a lead. Their calendars are their own; only clashes show."""
    here, me = kitchen_named(request, kitchen), person(request)
    check_may(me, here, Deed.ACT_FOR_OTHERS)
    return _page(request, here, me, membership_named(here, me, member))


@require_POST
def wishes(request: HttpRequest, kitchen: str, member: UUID) -> HttpResponse:
    """Keep a member's wishes: one's own, or as a lead anybody's."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = membership_named(here, me, member)
    if found.user != me:
        check_may(me, here, Deed.ACT_FOR_OTHERS)
    form = _wishes_form(found, request)
    if not form.is_valid():
        return _page(request, here, me, found, wishes_form=form)
    try:
        set_wishes(
            membership=found,
            likes=form.stations(Feeling.LIKES),
            cannot=form.stations(Feeling.CANNOT),
            most_minutes=form.most_minutes,
            comes_with=form.cleaned_data["comes_with"],
            learning=form.cleaned_data.get("learning", False),
            actor=me,
        )
    except KitchenError as refusal:
        form.add_error(None, str(refusal))
        return _page(request, here, me, found, wishes_form=form)
    messages.success(request, "Saved. A plan made before shows as out of date when this changes it.")
    if found.user == me:
        return redirect("helping:mine", here.slug)
    return redirect("helping:member", here.slug, found.uuid)


@require_POST
def upload(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Take the busy times out of my calendar file."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = membership_named(here, me, None), FileForm(request.POST, request.FILES)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            calendar = take_file(
                membership=found, name=file.name or "calendar.ics", data=file.read(), actor=me
            )
        except KitchenError as refusal:
            form.add_error("file", str(refusal))
        else:
            found_times = calendar.spans.count()
            messages.success(
                request, f"Read: {found_times} busy time{'' if found_times == 1 else 's'} in {calendar.name}."
            )
            return redirect("helping:mine", here.slug)
    return _page(request, here, me, found, file_form=form)


@require_POST
def follow(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Follow the address of my calendar."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = membership_named(here, me, None), AddressForm(request.POST)
    if form.is_valid():
        try:
            calendar = follow_address(membership=found, address=form.cleaned_data["address"], actor=me)
        except KitchenError as refusal:
            form.add_error("address", str(refusal))
        else:
            messages.success(request, f"{calendar.name} is read within a few minutes, then every six hours.")
            return redirect("helping:mine", here.slug)
    return _page(request, here, me, found, address_form=form)


@require_POST
def again(request: HttpRequest, kitchen: str, calendar: UUID) -> HttpResponse:
    """Have my calendar's address read now."""
    here, me = kitchen_named(request, kitchen), person(request)
    try:
        read_again(calendar=_calendar(here, me, calendar), actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "It is read within a few minutes.")
    return redirect("helping:mine", here.slug)


@require_POST
def forget(request: HttpRequest, kitchen: str, calendar: UUID) -> HttpResponse:
    """Take my calendar back with all its busy times."""
    here, me = kitchen_named(request, kitchen), person(request)
    forget_calendar(calendar=_calendar(here, me, calendar), actor=me)
    messages.success(request, "That calendar and its busy times are forgotten. Hours you gave stay.")
    return redirect("helping:mine", here.slug)


def _page(
    request: HttpRequest,
    here: Kitchen,
    me: User,
    membership: Membership,
    *,
    wishes_form: WishesForm | None = None,
    file_form: FileForm | None = None,
    address_form: AddressForm | None = None,
) -> HttpResponse:
    now = timezone.now()
    own, leads = membership.user == me, can(me, here, Deed.ACT_FOR_OTHERS)
    sent = (wishes_form, file_form, address_form)
    refused = any(form is not None and form.errors for form in sent)
    context: dict[str, object] = {
        "kitchen": here,
        "membership": membership,
        "own": own,
        "wishes_form": wishes_form or _wishes_form(membership, None),
        "trainings": trainings_of(membership),
        "food_trainings": food_trainings_of(membership),
        "clashes": clashes_in(here, membership.user, now),
        "others": others_piece(here, membership) if leads else None,
        "today": now.astimezone(here.zone).date(),
        "caution": CAUTION,
    }
    if own:
        context |= {
            "file_form": file_form or FileForm(),
            "address_form": address_form or AddressForm(),
            "calendars": calendars_of(membership),
            "busy_days": busy_days(me, here, now),
            "shown_days": SHOWN_DAYS,
        }
    return render(request, "helping/page.html", context, status=422 if refused else 200)


def _wishes_form(membership: Membership, request: HttpRequest | None) -> WishesForm:
    here = membership.kitchen
    today = timezone.now().astimezone(here.zone).date()
    return WishesForm(
        membership,
        members_of(here).exclude(pk=membership.pk),
        None if request is None else request.POST,
        wishes=wishes_of(membership),
        stations=stations_of(membership),
        trained=membership.user_id in trained_on(here, today),
    )


def _calendar(here: Kitchen, me: User, uuid: UUID) -> BusyCalendar:
    mine = BusyCalendar.objects.filter(membership__kitchen=here, membership__user=me)
    return get_object_or_404(mine.select_related("membership__kitchen", "membership__user"), uuid=uuid)
