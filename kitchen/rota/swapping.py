"""The page of one shift, and offers: making one, taking it back, accepting it."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from kitchen.errors import KitchenError
from kitchen.members.models import Kitchen, Membership, User
from kitchen.members.pages import kitchen_named, person
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed, can
from kitchen.rota.bridge import CAUTION
from kitchen.rota.forms import THEIRS, OfferForm, PersonForm, Theirs
from kitchen.rota.models import Shift
from kitchen.rota.pages import offer_named, shift_named
from kitchen.rota.queries import rota_of, standing_offers
from kitchen.rota.swaps import accept_offer, offer_swap, withdraw_offer


@require_safe
def shift(request: HttpRequest, kitchen: str, shift: UUID) -> HttpResponse:
    """One shift, and what I may do with it: give it back or offer it, or as a lead put somebody else there."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, now = shift_named(here, shift), timezone.now()
    lead = can(me, here, Deed.ACT_FOR_OTHERS)
    own = found.user_id == me.pk
    standing = found.cancelled_at is None and found.ends_at > now
    to_come = standing and found.starts_at > now
    context = {
        "kitchen": here,
        "day": found.harvest_day,
        "shift": found,
        "own": own,
        "lead": lead,
        "standing": standing,
        "to_come": to_come,
        "offer": standing_offers(found.harvest_day, now).filter(shift=found).select_related("to").first(),
        "offer_form": _offer_form(here, found, me) if own and to_come else None,
        "person_form": PersonForm(people=members_of(here)) if lead and standing else None,
        "caution": CAUTION,
    }
    return render(request, "rota/shift.html", context)


@require_POST
def offer(request: HttpRequest, kitchen: str, shift: UUID) -> HttpResponse:
    """Offer my shift to another."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = shift_named(here, shift)
    form = _offer_form(here, found, me, request)
    if not form.is_valid():
        messages.error(request, "Choose whom you offer it to, and what for, from the lists.")
        return redirect("rota:shift", here.slug, found.uuid)
    chosen, in_return = form.cleaned_data["to"], form.cleaned_data["wants"]
    to = _others(here, me).get(user=chosen) if chosen else None
    wants = _theirs(found, me).get(pk=in_return) if in_return else None
    try:
        offer_swap(shift=found, actor=me, to=to.user if to else None, wants=wants)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
        return redirect("rota:shift", here.slug, found.uuid)
    messages.success(request, "Offered. The shift is yours until somebody accepts it; you will be told.")
    return redirect("rota:mine", here.slug, found.harvest_day.uuid)


@require_POST
def withdraw(request: HttpRequest, kitchen: str, offer: UUID) -> HttpResponse:
    """Take my offer back."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = offer_named(here, offer)
    try:
        withdraw_offer(offer=found, actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The offer is taken back. The shift stays yours.")
    return redirect("rota:mine", here.slug, found.shift.harvest_day.uuid)


@require_POST
def accept(request: HttpRequest, kitchen: str, offer: UUID) -> HttpResponse:
    """Accept an offer."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = offer_named(here, offer)
    try:
        accept_offer(offer=found, actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"Done: the shift is yours, and {found.offered_by} is told.")
    return redirect("rota:mine", here.slug, found.shift.harvest_day.uuid)


def _offer_form(kitchen: Kitchen, shift: Shift, me: User, request: HttpRequest | None = None) -> OfferForm:
    data = None if request is None else request.POST
    told = _theirs(shift, me).prefetch_related(None).values_list(*THEIRS)
    zone = shift.harvest_day.kitchen.zone
    return OfferForm(data, people=_others(kitchen, me), theirs=[Theirs(*one) for one in told], zone=zone)


def _others(kitchen: Kitchen, me: User) -> QuerySet[Membership]:
    return members_of(kitchen).exclude(user=me)


def _theirs(shift: Shift, me: User) -> QuerySet[Shift]:
    """Shifts of others on the same day that have not begun."""
    to_come = rota_of(shift.harvest_day).filter(user__isnull=False, starts_at__gt=timezone.now())
    return to_come.exclude(user=me).order_by("user__display_name", "starts_at", "pk")
