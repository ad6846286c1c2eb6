"""A person's passkeys: adding, removing, signing in."""

from __future__ import annotations

from datetime import datetime

import structlog
from django.db import IntegrityError, transaction
from django.utils import timezone

from kitchen.audit.actions import Line, record, record_all, snapshot
from kitchen.entrance.models import Change, Passkey
from kitchen.entrance.protocol import check_answer, check_new, read_answer
from kitchen.entrance.telling import tell
from kitchen.errors import BadSetting, NotAllowed
from kitchen.members.models import User

MOST_PASSKEYS = 10
"""Of one person. A guard, no figure of any standard."""

log = structlog.get_logger(__name__)


def check_may_add(*, user: User, name: str, password: str) -> None:
    """Refuse whoever does not know the password, has enough passkeys or one of this name.

    The password is asked for because a passkey outlives the session: nobody leaves one behind on a tablet that somebody
    else forgot to sign out of.
    """
    if not user.check_password(password):
        raise NotAllowed("This is not your password.", remedy="Type it again.")
    if Passkey.objects.filter(user=user).count() >= MOST_PASSKEYS:
        raise BadSetting(f"You have {MOST_PASSKEYS} passkeys.", remedy="Remove one that you no longer use.")
    if Passkey.objects.filter(user=user, name=name).exists():
        raise BadSetting(f"You have a passkey called {name}.", remedy="Choose another name.")


@transaction.atomic
def add_passkey(*, user: User, name: str, answer: str, challenge: str, now: datetime) -> Passkey:
    """Keep a passkey that the person's browser made for this challenge, which came after ``check_may_add``."""
    made = check_new(answer, challenge)
    try:
        with transaction.atomic():
            passkey = Passkey.objects.create(
                user=user,
                name=name,
                credential_id=made.credential_id,
                public_key=made.public_key,
                sign_count=made.sign_count,
                added_at=now,
            )
    except IntegrityError as error:
        raise BadSetting("This passkey is known here already.", remedy="Choose another one.") from error
    record(
        actor=user,
        kitchen=None,
        action="add_passkey",
        subject=passkey,
        after=snapshot(passkey, "user", "name"),
    )
    tell(user=user, change=Change.PASSKEY_ADDED, at=now, passkey=name)
    return passkey


@transaction.atomic
def remove_passkey(*, passkey: Passkey, actor: User) -> None:
    """Let a passkey open nothing any more. Its own person does."""
    if passkey.user_id != actor.pk:
        raise NotAllowed("This is somebody else's passkey.", remedy="Only they can remove it.")
    record(
        actor=actor,
        kitchen=None,
        action="remove_passkey",
        subject=passkey,
        before=snapshot(passkey, "user", "name"),
    )
    passkey.delete()
    tell(user=actor, change=Change.PASSKEY_REMOVED, at=timezone.now(), passkey=passkey.name)


@transaction.atomic
def sign_in_by_passkey(*, answer: str, challenge: str, now: datetime) -> User:
    """Who signed this challenge with one of their passkeys.

    Refused for an unknown or forged one, one of somebody who may not sign in, and one whose count has gone back or
    stood still: then there are two of it, and nobody can say which of them is the person's.
    """
    told = read_answer(answer)
    passkey = (
        Passkey.objects.select_for_update(of=("self",))
        .select_related("user")
        .filter(credential_id=told.credential_id, user__is_active=True)
        .first()
    )
    if passkey is None or passkey.user.uuid.bytes != told.user_handle:
        raise NotAllowed(
            "This passkey is not known here.",
            remedy="Sign in another way; you may have removed it, and can remove it from your device as well.",
        )
    count = check_answer(answer, challenge, passkey)
    if (count or passkey.sign_count) and count <= passkey.sign_count:
        log.warning("passkey_copied", passkey=str(passkey.uuid), count=count, kept=passkey.sign_count)
        raise NotAllowed(
            f"The passkey {passkey.name} may have been copied: its counter went back.",
            remedy="Sign in another way, remove it from your account, and add a new one.",
        )
    passkey.sign_count, passkey.last_used_at = count, now
    passkey.save(update_fields=["sign_count", "last_used_at"])
    record(actor=passkey.user, kitchen=None, action="sign_in_by_passkey", subject=passkey)
    return passkey.user


@transaction.atomic
def forget_passkeys(*, user: User, actor: User) -> None:
    """Remove all passkeys of somebody who belongs to no kitchen any more, with a line for each."""
    theirs = list(Passkey.objects.filter(user=user))
    record_all(
        Line(
            actor=actor,
            kitchen=None,
            action="remove_passkey",
            subject=one,
            before=snapshot(one, "user", "name"),
        )
        for one in theirs
    )
    Passkey.objects.filter(pk__in=[one.pk for one in theirs]).delete()
    for one in theirs:
        tell(user=user, change=Change.PASSKEY_REMOVED, at=timezone.now(), passkey=one.name)
