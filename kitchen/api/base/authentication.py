"""Signing in with a token."""

from __future__ import annotations

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from kitchen.api.actions import note_use
from kitchen.api.models import Token
from kitchen.api.queries import standing_token
from kitchen.members.models import User

_LONGEST = 200


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer kitchen_…``; whoever sends none is asked for a session.

    No cookie is involved, so nothing that a foreign page makes a browser send can pass for it.
    """

    def authenticate(self, request: Request) -> tuple[User, Token] | None:
        """The token's person and the token. Every failure is told alike."""
        word, _, secret = get_authorization_header(request).partition(b" ")
        if word.lower() != b"bearer":
            return None
        now = timezone.now()
        found = standing_token(secret.decode("latin-1").strip()[:_LONGEST], now)
        if found is None or not found.user.is_active:
            raise AuthenticationFailed("This token is unknown, or has ended.", code="unknown-token")
        note_use(token=found, now=now)
        return found.user, found

    def authenticate_header(self, request: Request) -> str:
        """What an answer without a valid token names."""
        return 'Bearer realm="kitchen"'
