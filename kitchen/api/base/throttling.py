"""How often one person, or one address, may ask: counted in the cache that all processes share."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import structlog
from django.conf import settings
from django.core.cache import cache
from redis.exceptions import RedisError
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from kitchen.api.models import Token
from kitchen.members.models import User

if TYPE_CHECKING:
    from rest_framework.views import APIView  # Which itself imports this module.

_WINDOW_SECONDS = 60

log = structlog.get_logger(__name__)


class PerMinute(BaseThrottle):
    """So many requests in each minute, counted by one atomic step of the cache, so that no two miss each other.

    A cache that does not answer lets everybody in: a kitchen at its canners must not stop for it.
    """

    _wait: float | None = None

    def allow_request(self, request: Request, view: APIView) -> bool:
        """True while the count of this minute is within what is allowed."""
        now = time.time()
        who, most = self._who(request)
        key = f"api:{who}:{int(now // _WINDOW_SECONDS)}"
        try:
            cache.add(key, 0, timeout=2 * _WINDOW_SECONDS)
            count = cache.incr(key)
        except (RedisError, ValueError) as error:
            log.warning("requests are not counted", reason=str(error))
            return True
        self._wait = _WINDOW_SECONDS - now % _WINDOW_SECONDS
        return count <= most

    def wait(self) -> float | None:
        """Seconds until the next minute."""
        return self._wait

    def _who(self, request: Request) -> tuple[str, int]:
        """Whoever is counted together, and how often they may ask."""
        if isinstance(request.auth, Token):
            return f"token:{request.auth.pk}", settings.API_PER_MINUTE
        if isinstance(request.user, User):
            return f"user:{request.user.pk}", settings.API_PER_MINUTE
        return f"address:{self.get_ident(request)}", settings.API_PER_MINUTE_UNKNOWN
