"""Invitations and passwords: how a person comes to sign in."""

from __future__ import annotations

from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record
from kitchen.errors import BadMembership, BadSetting, NotAllowed
from kitchen.members.models import Membership, User
from kitchen.members.rules import Deed, check_may
from kitchen.members.signals import password_changed


def invite(*, membership: Membership, actor: User) -> str:
    """A token with which a new member sets their first password, once, within a few days.

    For ``accept_invitation``. It ends when it is used, or when ``PASSWORD_RESET_TIMEOUT`` has passed. Refused
    for somebody who can sign in already: a lead must not be able to take over an account.
    """
    check_may(actor, membership.kitchen, Deed.CHANGE_MEMBERS)
    if membership.user.has_usable_password():
        raise BadMembership(f"{membership.user} can sign in already.", remedy="Nothing is left to send.")
    with transaction.atomic():
        record(actor=actor, kitchen=membership.kitchen, action="invite", subject=membership)
    return default_token_generator.make_token(membership.user)


def check_invitation(*, user: User, token: str) -> None:
    """Refuse a token that was used, is too old, or another's."""
    if user.has_usable_password() or not default_token_generator.check_token(user, token):
        raise NotAllowed(
            "This invitation no longer holds.", remedy="Ask your kitchen's lead for another one."
        )


@transaction.atomic
def accept_invitation(*, user: User, token: str, password: str) -> User:
    """Set the first password of an invited person. Refused like ``check_invitation``."""
    check_invitation(user=user, token=token)
    set_password(user=user, password=password, actor=user)
    return user


@transaction.atomic
def set_password(*, user: User, password: str, actor: User | None) -> None:
    """Give a person a password, for oneself or from the command line. The password itself is not recorded."""
    if actor is not None and actor.pk != user.pk:
        raise NotAllowed("A password is set by its own person.", remedy=f"Let {user} set it.")
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise BadSetting(" ".join(error.messages), remedy="Choose another password.") from error
    is_another = user.has_usable_password()
    user.set_password(password)
    user.save(update_fields=["password"])
    record(actor=actor, kitchen=None, action="set_password", subject=user)
    if is_another:
        password_changed.send(sender=User, user=user, at=timezone.now())
