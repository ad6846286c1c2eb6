"""The lead's pages about people: who belongs here, who is new, what each may do and was trained for."""

from __future__ import annotations

from smtplib import SMTPException
from uuid import UUID

import structlog
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from kitchen.errors import KitchenError
from kitchen.members.actions import add_member, change_age, change_role, end_membership
from kitchen.members.forms import PersonForm, StandingForm, TrainingForm
from kitchen.members.links import invitation_address, invitation_mail, sends_mail
from kitchen.members.models import Kitchen, Membership, Role
from kitchen.members.pages import kitchen_for, person, today_in
from kitchen.members.queries import members_of, trained_on
from kitchen.members.rules import Deed
from kitchen.members.signing_in import invite
from kitchen.members.trainings import record_food_training, record_training

log = structlog.get_logger(__name__)


def people(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Everybody who belongs here; a press takes somebody in and invites them."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_MEMBERS)
    form = PersonForm(request.POST or None)
    context: dict[str, object] = {"kitchen": here, "form": form}
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            membership = add_member(
                kitchen=here,
                email=given["email"],
                display_name=given["name"],
                role=Role(given["role"]),
                under_16=given["under_16"],
                actor=person(request),
            )
        except KitchenError as refusal:
            context["refusal"] = refusal
        else:
            if membership.user.has_usable_password():
                messages.success(request, f"{membership.user} belongs here now, and signs in as ever.")
            else:
                _invite(request, membership)
            return redirect("members:person", here.slug, membership.uuid)
    today = today_in(here)
    trained = trained_on(here, today)
    context["rows"] = [(one, one.user_id in trained) for one in members_of(here)]
    status = 422 if form.errors or "refusal" in context else 200
    return render(request, "members/people.html", context, status=status)


def one_person(request: HttpRequest, kitchen: str, membership: UUID) -> HttpResponse:
    """One of them: role, trainings, invitation."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_MEMBERS)
    return _shown(request, here, _found(here, membership))


@require_POST
def change(request: HttpRequest, kitchen: str, membership: UUID) -> HttpResponse:
    """Another role, or another age."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_MEMBERS)
    found = _found(here, membership)
    form = StandingForm(request.POST)
    if not form.is_valid():
        return _shown(request, here, found, standing=form)
    me = person(request)
    try:
        # One press is one change: where the role is refused, the age stays too.
        with transaction.atomic():
            change_age(membership=found, under_16=form.cleaned_data["under_16"], actor=me)
            if found.role != form.cleaned_data["role"]:
                change_role(membership=found, role=Role(form.cleaned_data["role"]), actor=me)
    except KitchenError as refusal:
        return _shown(request, here, found, refusal=refusal)
    messages.success(request, "Changed.")
    return redirect("members:person", here.slug, found.uuid)


@require_POST
def train(request: HttpRequest, kitchen: str, membership: UUID) -> HttpResponse:
    """A training, for canners or for handling food, as the pressed button says."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_MEMBERS)
    found = _found(here, membership)
    form = TrainingForm(request.POST)
    if not form.is_valid():
        return _shown(request, here, found, training=form)
    note = record_training if request.POST.get("kind") == "canner" else record_food_training
    try:
        note(membership=found, actor=person(request), **form.cleaned_data)
    except KitchenError as refusal:
        return _shown(request, here, found, training=form, refusal=refusal)
    messages.success(request, "Noted.")
    return redirect("members:person", here.slug, found.uuid)


@require_POST
def invite_again(request: HttpRequest, kitchen: str, membership: UUID) -> HttpResponse:
    """Another invitation; those before hold no longer than they did."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_MEMBERS)
    found = _found(here, membership)
    try:
        _invite(request, found)
    except KitchenError as refusal:
        return _shown(request, here, found, refusal=refusal)
    return redirect("members:person", here.slug, found.uuid)


@require_POST
def leave(request: HttpRequest, kitchen: str, membership: UUID) -> HttpResponse:
    """They belong here no longer. Records keep their name."""
    here = kitchen_for(request, kitchen, Deed.CHANGE_MEMBERS)
    found = _found(here, membership)
    try:
        end_membership(membership=found, actor=person(request))
    except KitchenError as refusal:
        return _shown(request, here, found, refusal=refusal)
    messages.success(request, f"{found.user} belongs here no longer.")
    return redirect("home:front") if found.user == request.user else redirect("members:people", here.slug)


def _invite(request: HttpRequest, membership: Membership) -> None:
    """Make an invitation and mail it. Its address is shown to the lead once, who may pass it on by hand.

    Not to the lead where the person belongs to another kitchen as well, in which a lead of this one is a stranger.
    """
    token = invite(membership=membership, actor=person(request))
    if not membership.user.memberships.exclude(pk=membership.pk).exists():
        request.session["invitation"] = [str(membership.uuid), invitation_address(membership.user, token)]
    try:
        invitation_mail(membership.kitchen, membership.user, token).send()
    except (OSError, SMTPException) as error:
        log.warning("invitation_not_sent", reason=type(error).__name__)
        messages.error(
            request, "The message could not be sent. Invite again later, or pass the address on yourself."
        )
    else:
        if sends_mail():
            messages.success(request, f"An invitation is on its way to {membership.user.email}.")
        else:
            messages.error(request, "No mail server is named yet. Pass the address on yourself.")


def _shown(
    request: HttpRequest,
    here: Kitchen,
    found: Membership,
    *,
    standing: StandingForm | None = None,
    training: TrainingForm | None = None,
    refusal: KitchenError | None = None,
) -> HttpResponse:
    today = today_in(here)
    whose, address = request.session.pop("invitation", ("", ""))
    context = {
        "kitchen": here,
        "membership": found,
        "standing": standing or StandingForm(initial={"role": found.role, "under_16": found.under_16}),
        "training": training or TrainingForm(initial={"trained_on": today}),
        "trainings": [(one, one.holds_on(today)) for one in found.trainings.all()],
        "food_trainings": [(one, one.holds_on(today)) for one in found.food_trainings.all()],
        "address": address if whose == str(found.uuid) else "",
        "can_sign_in": found.user.has_usable_password(),
        "refusal": refusal,
    }
    status = 200 if standing is None and training is None and refusal is None else 422
    return render(request, "members/person.html", context, status=status)


def _found(here: Kitchen, membership: UUID) -> Membership:
    rows = Membership.objects.select_related("user", "kitchen")
    return get_object_or_404(rows, kitchen=here, uuid=membership, left_at__isnull=True)
