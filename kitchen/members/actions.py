"""Changes to kitchens, memberships and policies."""

from __future__ import annotations

from datetime import datetime, time
from itertools import pairwise

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from kitchen.audit.actions import record, snapshot
from kitchen.errors import BadMembership, BadSetting
from kitchen.members.models import (
    ConfirmedProcess,
    Kitchen,
    Membership,
    OpeningHours,
    Role,
    User,
)
from kitchen.members.queries import leads_of
from kitchen.members.rules import Deed, check_fields, check_may, check_policy, check_site
from kitchen.members.signals import membership_ended, membership_ending, site_changed


@transaction.atomic
def create_kitchen(
    *,
    name: str,
    slug: str,
    site_code: str,
    altitude_ft: int,
    time_zone: str,
    lead: User,
    actor: User | None = None,
) -> Kitchen:
    """Open a kitchen with its first lead. ``actor`` is None when it is set up from the command line."""
    check_site(altitude_ft=altitude_ft, time_zone=time_zone)
    kitchen = Kitchen(name=name, slug=slug, site_code=site_code, altitude_ft=altitude_ft, time_zone=time_zone)
    check_fields(kitchen)
    kitchen.save()
    record(
        actor=actor,
        kitchen=kitchen,
        action="create_kitchen",
        subject=kitchen,
        after=snapshot(kitchen, "name", "site_code", "altitude_ft", "time_zone"),
    )
    _join(kitchen=kitchen, user=lead, role=Role.LEAD, under_16=False, actor=actor)
    return kitchen


@transaction.atomic
def open_kitchen(
    *, name: str, site_code: str, altitude_ft: int, time_zone: str, lead_name: str, lead_email: str
) -> tuple[Kitchen, str | None]:
    """Set a kitchen up from the command line, with its first lead and the token with which they set their password.

    No token for somebody who can sign in already.
    """
    lead = _person(lead_email, lead_name)
    kitchen = create_kitchen(
        name=name,
        slug=slugify(name),
        site_code=site_code,
        altitude_ft=altitude_ft,
        time_zone=time_zone,
        lead=lead,
    )
    return kitchen, None if lead.has_usable_password() else default_token_generator.make_token(lead)


@transaction.atomic
def change_site(*, kitchen: Kitchen, altitude_ft: int, time_zone: str, actor: User) -> Kitchen:
    """Correct where the kitchen is. Plans made before show as out of date."""
    check_may(actor, kitchen, Deed.CHANGE_POLICY)
    check_site(altitude_ft=altitude_ft, time_zone=time_zone)
    before = snapshot(kitchen, "altitude_ft", "time_zone")
    kitchen.altitude_ft, kitchen.time_zone = altitude_ft, time_zone
    kitchen.save(update_fields=["altitude_ft", "time_zone"])
    record(
        actor=actor,
        kitchen=kitchen,
        action="change_site",
        subject=kitchen,
        before=before,
        after=snapshot(kitchen, "altitude_ft", "time_zone"),
    )
    site_changed.send(sender=Kitchen, kitchen=kitchen, actor=actor, at=timezone.now())
    return kitchen


@transaction.atomic
def change_policy(*, kitchen: Kitchen, changes: dict[str, object], actor: User) -> Kitchen:
    """Change what the kitchen decides for itself, within its limits; who changed it and from what is
    recorded.
    """
    check_may(actor, kitchen, Deed.CHANGE_POLICY)
    check_policy(changes)
    before = snapshot(kitchen, *changes)
    for name, value in changes.items():
        setattr(kitchen, name, value)
    check_fields(kitchen)
    kitchen.save(update_fields=list(changes))
    record(
        actor=actor,
        kitchen=kitchen,
        action="change_policy",
        subject=kitchen,
        before=before,
        after=snapshot(kitchen, *changes),
    )
    return kitchen


@transaction.atomic
def set_opening_hours(*, kitchen: Kitchen, weekday: int, hours: list[tuple[time, time]], actor: User) -> None:
    """Replace one weekday's hours; an empty list closes the kitchen. Monday is 0."""
    check_may(actor, kitchen, Deed.CHANGE_POLICY)
    if not 0 <= weekday <= 6:
        raise BadSetting(f"There is no weekday {weekday}.", remedy="Count from 0, Monday, to 6, Sunday.")
    spans = sorted(hours)
    for opens, closes in spans:
        if closes <= opens:
            raise BadSetting(
                f"The kitchen cannot close at {closes:%H:%M} when it opens at {opens:%H:%M}.",
                remedy="Set the closing after the opening, on the same day.",
            )
    for (_, closes), (opens, _) in pairwise(spans):
        if opens < closes:
            raise BadSetting(
                f"The hours from {opens:%H:%M} begin before those to {closes:%H:%M} end.",
                remedy="Give each stretch of the day once.",
            )
    before = list(kitchen.opening_hours.filter(weekday=weekday).values_list("opens", "closes"))
    kitchen.opening_hours.filter(weekday=weekday).delete()
    OpeningHours.objects.bulk_create(
        OpeningHours(kitchen=kitchen, weekday=weekday, opens=opens, closes=closes) for opens, closes in spans
    )
    record(
        actor=actor,
        kitchen=kitchen,
        action="set_opening_hours",
        subject=kitchen,
        before={"weekday": weekday, "hours": before},
        after={"hours": spans},
    )


@transaction.atomic
def add_member(
    *, kitchen: Kitchen, email: str, display_name: str, role: Role, actor: User, under_16: bool = False
) -> Membership:
    """Take a person into the kitchen; a new person gets a user without a password, who sets one by an
    invitation.

    Somebody who left before comes back with the new role.
    """
    check_may(actor, kitchen, Deed.CHANGE_MEMBERS)
    user = _person(email, display_name)
    return _join(kitchen=kitchen, user=user, role=role, under_16=under_16, actor=actor)


@transaction.atomic
def choose_writing(*, user: User, language: str, units: str) -> User:
    """Choose the language and the units in which pages and messages are written for oneself."""
    before = snapshot(user, "language", "units")
    user.language, user.units = language, units
    check_fields(user)
    user.save(update_fields=["language", "units"])
    record(
        actor=user,
        kitchen=None,
        action="choose_writing",
        subject=user,
        before=before,
        after=snapshot(user, "language", "units"),
    )
    return user


@transaction.atomic
def change_role(*, membership: Membership, role: Role, actor: User) -> Membership:
    """Give a member another role. The last lead stays lead."""
    check_may(actor, membership.kitchen, Deed.CHANGE_MEMBERS)
    _keep_a_lead(membership, leaving=role is not Role.LEAD)
    before = snapshot(membership, "role")
    membership.role = role
    membership.save(update_fields=["role"])
    _open_admin_to_leads(membership.user)
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="change_role",
        subject=membership,
        before=before,
        after=snapshot(membership, "role"),
    )
    return membership


@transaction.atomic
def change_age(*, membership: Membership, under_16: bool, actor: User) -> Membership:
    """Note that a member is under 16, or no longer (never at a canner or kettle: common practice, no source).

    Refused for somebody who was ever trained to run a canner.
    """
    check_may(actor, membership.kitchen, Deed.CHANGE_MEMBERS)
    if under_16 and membership.trainings.exists():
        raise BadMembership(
            f"{membership.user} was trained to run a canner.", remedy="Only members of 16 and over are."
        )
    if membership.under_16 == under_16:
        return membership
    before = snapshot(membership, "under_16")
    membership.under_16 = under_16
    membership.save(update_fields=["under_16"])
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="change_age",
        subject=membership,
        before=before,
        after=snapshot(membership, "under_16"),
    )
    return membership


@transaction.atomic
def end_membership(*, membership: Membership, actor: User, at: datetime | None = None) -> Membership:
    """Let a person leave, or leave oneself. The last lead cannot.

    What they were still to do becomes open shifts, their hours go, and what they booked is free for others
    (``signals``).
    """
    at = at or timezone.now()
    if actor.pk != membership.user_id:
        check_may(actor, membership.kitchen, Deed.CHANGE_MEMBERS)
    _keep_a_lead(membership, leaving=True)
    membership_ending.send(sender=Membership, membership=membership, actor=actor, at=at)
    membership.left_at = at
    membership.save(update_fields=["left_at"])
    _open_admin_to_leads(membership.user)
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="end_membership",
        subject=membership,
        before={"left_at": None},
        after=snapshot(membership, "left_at"),
    )
    membership_ended.send(sender=Membership, membership=membership, actor=actor, at=at)
    return membership


@transaction.atomic
def confirm_process(*, kitchen: Kitchen, process_key: str, publication: str, actor: User) -> ConfirmedProcess:
    """Rule S1: a lead has read a row of confidence B in the named current publication, and it agrees."""
    check_may(actor, kitchen, Deed.CONFIRM_PROCESS)
    if not publication.strip():
        raise BadSetting(
            "No publication is named.", remedy="Name the publication and its year that you compared with."
        )
    confirmed, created = ConfirmedProcess.objects.get_or_create(
        kitchen=kitchen, process_key=process_key, defaults={"publication": publication, "confirmed_by": actor}
    )
    if created:
        record(
            actor=actor,
            kitchen=kitchen,
            action="confirm_process",
            subject=confirmed,
            after=snapshot(confirmed, "process_key", "publication"),
        )
    return confirmed


@transaction.atomic
def withdraw_process(*, confirmed: ConfirmedProcess, actor: User) -> None:
    """Take a confirmation back; the row is not planned with any more."""
    check_may(actor, confirmed.kitchen, Deed.CONFIRM_PROCESS)
    record(
        actor=actor,
        kitchen=confirmed.kitchen,
        action="withdraw_process",
        subject=confirmed,
        before=snapshot(confirmed, "process_key", "publication"),
    )
    confirmed.delete()


def _person(email: str, display_name: str) -> User:
    """Who has this address, or a new person without a password."""
    user = User.objects.filter(email=email.lower()).first()
    if user is None:
        user = User(email=email.lower(), display_name=display_name)
        user.set_unusable_password()
        check_fields(user)
        user.save()
    return user


def _join(*, kitchen: Kitchen, user: User, role: Role, under_16: bool, actor: User | None) -> Membership:
    membership = Membership.objects.filter(kitchen=kitchen, user=user).first()
    if membership is not None and membership.left_at is None:
        raise BadMembership(f"{user} belongs to {kitchen} already.", remedy="Change the role instead.")
    if membership is None:
        membership = Membership(kitchen=kitchen, user=user)
    membership.role, membership.under_16, membership.left_at = role, under_16, None
    membership.save()
    _open_admin_to_leads(user)
    record(
        actor=actor,
        kitchen=kitchen,
        action="add_member",
        subject=membership,
        after=snapshot(membership, "user", "role", "under_16"),
    )
    return membership


def _keep_a_lead(membership: Membership, *, leaving: bool) -> None:
    # One after the other: of two leads who leave at once, the second must see that the first has left.
    Kitchen.objects.select_for_update(no_key=True).get(pk=membership.kitchen_id)
    membership.refresh_from_db(fields=["role", "left_at"])
    others = leads_of(membership.kitchen).exclude(pk=membership.pk)
    if leaving and membership.role == Role.LEAD and not others.exists():
        raise BadMembership(
            f"{membership.user} is the only lead of {membership.kitchen}.",
            remedy="Make another member lead first.",
        )


def _open_admin_to_leads(user: User) -> None:
    """The admin pages are open to whoever leads a kitchen, and to the site's own staff."""
    leads = user.memberships.filter(role=Role.LEAD, left_at__isnull=True).exists()
    if user.is_staff != (leads or user.is_superuser):
        user.is_staff = leads or user.is_superuser
        user.save(update_fields=["is_staff"])
