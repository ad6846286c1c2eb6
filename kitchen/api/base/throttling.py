"""How often one person, or one address, may ask."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from kitchen.api.models import Token
from kitchen.http.counting import client_address, count_one, seconds_left
from kitchen.members.models import User

if TYPE_CHECKING:
    from rest_framework.views import APIView  # Which itself imports this module.

_WINDOW_SECONDS = 60


class PerMinute(BaseThrottle):
    """So many requests in each minute, each counted by one atomic step, so that no two miss each other."""

    def allow_request(self, request: Request, view: APIView) -> bool:
        """True while the count of this minute is within what is allowed."""
        who, most = _who(request)
        return count_one(f"api:{who}", _WINDOW_SECONDS) <= most

    def wait(self) -> float:
        """Seconds until the next minute."""
        return seconds_left(_WINDOW_SECONDS)


def _who(request: Request) -> tuple[str, int]:
    """Whoever is counted together, and how often they may ask."""
    if isinstance(request.auth, Token):
        return f"token:{request.auth.pk}", settings.API_PER_MINUTE
    if isinstance(request.user, User):
        return f"user:{request.user.pk}", settings.API_PER_MINUTE
    return f"address:{client_address(request._request)}", settings.API_PER_MINUTE_UNKNOWN
