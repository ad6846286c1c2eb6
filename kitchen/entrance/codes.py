"""Signing in by a code that is sent by e-mail: asking, making, using."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils.crypto import constant_time_compare

from kitchen.audit.actions import record
from kitchen.entrance.models import MOST_TRIES, SignInCode
from kitchen.entrance.rules import HOLDS, as_typed, digest_of, make_code
from kitchen.errors import NotAllowed
from kitchen.hints import send_hint
from kitchen.members.models import User

SEND_TASK = "kitchen.entrance.tasks.send_codes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """A code on its way to a person. ``language`` is for whoever has not chosen one."""

    user: User
    code: str
    language: str

    def __repr__(self) -> str:
        # Whatever writes this down, a trace or a log, does not write the code.
        return f"Letter(user={self.user.pk})"


def ask_for_code(*, email: str, language: str, now: datetime) -> UUID:
    """Note that a code was asked for; the answer is for the session of the browser that asked.

    The same is done whoever is meant, so that neither the answer nor its time tells whether the address is known: a
    worker makes and sends the code, and writes the line that it was asked for (``make_due_code``). Nobody gets one
    who has not accepted their invitation, since a lead may still hand it out.
    """
    user = User.objects.filter(email=email.strip().lower(), is_active=True).first()
    known = user if user is not None and user.has_usable_password() else None
    asked = SignInCode.objects.create(user=known, language=language, asked_at=now)
    send_hint(SEND_TASK)
    return asked.uuid


@transaction.atomic
def make_due_code(*, now: datetime) -> Letter | None:
    """Make the code that waits longest, end the person's codes before it, and say what to send; None when none waits.

    A code whose message is lost is not sent again; the person asks for another.
    """
    waiting = _standing(now).filter(user__isnull=False, digest="").order_by("asked_at", "pk")
    for asked in waiting.select_related("user")[:10]:
        user, code = asked.user, make_code()
        # Another worker may have been faster.
        if user is None or not waiting.filter(pk=asked.pk).update(digest=digest_of(asked.uuid, code)):
            continue
        older = SignInCode.objects.filter(user=user, ended_at__isnull=True, asked_at__lte=asked.asked_at)
        older.exclude(pk=asked.pk).update(ended_at=now)
        record(actor=user, kitchen=None, action="ask_for_code", subject=user)
        return Letter(user=user, code=code, language=asked.language)
    return None


def sign_in_by_code(*, asked: UUID, code: str, now: datetime) -> User:
    """Who may sign in with this code, which is used up by that. ``asked`` is what the browser's session holds.

    Refused when the code is wrong, too old, was used, was tried too often, or when this browser did not ask for it.
    """
    _count_a_try(asked, now)
    with transaction.atomic():
        row = SignInCode.objects.filter(uuid=asked).select_related("user").first()
        if row is None:
            raise _ended()
        right = constant_time_compare(row.digest.ljust(64), digest_of(row.uuid, as_typed(code)))
        if row.user is None or not row.user.is_active or not right:
            raise _wrong(MOST_TRIES - row.tries)
        if not SignInCode.objects.filter(pk=row.pk, ended_at__isnull=True).update(ended_at=now):
            raise _ended()
        record(actor=row.user, kitchen=None, action="sign_in_by_code", subject=row.user)
    return row.user


def forget_codes(*, now: datetime) -> None:
    """Remove what holds no longer. What was done with it stands in the record."""
    SignInCode.objects.filter(asked_at__lte=now - HOLDS).delete()


def _count_a_try(asked: UUID, now: datetime) -> None:
    """One step of its own, which stays whatever comes of the try: many tries at once are not more than the limit."""
    if not _standing(now).filter(uuid=asked, tries__lt=MOST_TRIES).update(tries=F("tries") + 1):
        raise _ended()


def _standing(now: datetime) -> QuerySet[SignInCode]:
    return SignInCode.objects.filter(asked_at__gt=now - HOLDS, ended_at__isnull=True)


def _wrong(tries_left: int) -> NotAllowed:
    if not tries_left:
        return _ended()
    return NotAllowed("This is not the code.", remedy=f"Look again; tries left: {tries_left}.")


def _ended() -> NotAllowed:
    return NotAllowed("No code holds in this browser.", remedy="Ask for another one.")
