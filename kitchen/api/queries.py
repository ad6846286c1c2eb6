"""Reads of tokens."""

from __future__ import annotations

from datetime import datetime
from hmac import compare_digest

from django.db.models import QuerySet

from kitchen.api.models import Token
from kitchen.calendars.queries import digest_of
from kitchen.members.models import Kitchen, User


def standing_token(secret: str, now: datetime) -> Token | None:
    """The token with this secret that nobody revoked and that has not ended, or None."""
    digest = digest_of(secret)
    found = (
        Token.objects.filter(digest=digest, revoked_at__isnull=True, ends_at__gt=now)
        .select_related("kitchen", "user")
        .first()
    )
    return found if found and compare_digest(found.digest, digest) else None


def tokens_of(user: User, kitchen: Kitchen, now: datetime) -> QuerySet[Token]:
    """A person's standing tokens in a kitchen, the newest first."""
    mine = Token.objects.filter(user=user, kitchen=kitchen, revoked_at__isnull=True, ends_at__gt=now)
    return mine.order_by("-created_at")
