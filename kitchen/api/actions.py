"""Making and revoking tokens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from secrets import token_urlsafe

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from kitchen.api.models import TOKEN_LIFE, Scope, Token
from kitchen.audit.actions import record, snapshot
from kitchen.calendars.queries import digest_of
from kitchen.errors import AlreadyDecided, BadSetting
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may

PREFIX = "kitchen_"
"""Every token begins so, that one that was left somewhere is known for what it is."""
_SECRET_BYTES = 32
# A program asks often; when its token was last used need not be known more exactly than this.
_USE_NOTED_EVERY = timedelta(minutes=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewToken:
    """A token and its secret. The secret can be shown now and never again."""

    token: Token
    secret: str


@transaction.atomic
def make_token(
    *, user: User, kitchen: Kitchen, name: str, scopes: Sequence[Scope], now: datetime | None = None
) -> NewToken:
    """Make a person's own key for a device or program. ``BadSetting`` without a name or anything that it opens."""
    check_may(user, kitchen, Deed.SEE)
    if not name.strip() or not scopes:
        raise BadSetting(
            "The token has no name, or opens nothing.", remedy="Name the device, and choose what it may do."
        )
    at = now or timezone.now()
    secret = PREFIX + token_urlsafe(_SECRET_BYTES)
    token = Token.objects.create(
        user=user,
        kitchen=kitchen,
        name=name.strip(),
        scopes=sorted(scopes),
        digest=digest_of(secret),
        created_at=at,
        ends_at=at + TOKEN_LIFE,
    )
    told = snapshot(token, "name", "scopes", "ends_at")
    record(actor=user, kitchen=kitchen, action="make_token", subject=token, after=told)
    return NewToken(token=token, secret=secret)


@transaction.atomic
def revoke_token(*, token: Token, actor: User, now: datetime | None = None) -> None:
    """End a token at once. A person may end their own, a lead anybody's."""
    if actor.pk != token.user_id:
        check_may(actor, token.kitchen, Deed.CHANGE_MEMBERS)
    at = now or timezone.now()
    if not Token.objects.filter(pk=token.pk, revoked_at__isnull=True).update(revoked_at=at):
        raise AlreadyDecided("This token has ended already.", remedy="Make a new one.")
    record(actor=actor, kitchen=token.kitchen, action="revoke_token", subject=token, after={"revoked_at": at})


def note_use(*, token: Token, now: datetime) -> None:
    """Note that a token is in use, at most every ten minutes."""
    long_ago = Q(last_used_at__isnull=True) | Q(last_used_at__lte=now - _USE_NOTED_EVERY)
    if token.last_used_at is None or token.last_used_at <= now - _USE_NOTED_EVERY:
        Token.objects.filter(long_ago, pk=token.pk).update(last_used_at=now)
