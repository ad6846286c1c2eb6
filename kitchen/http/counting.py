"""How often something happened in a stretch of time, counted in the cache that all processes share."""

from __future__ import annotations

import time
from hashlib import sha256

import structlog
from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest
from redis.exceptions import RedisError

log = structlog.get_logger(__name__)


def count_one(what: str, window_seconds: int, *, at: float | None = None) -> int:
    """Count once more, by one atomic step of the cache, and say how often it was in this stretch of time.

    The stretch is the one in which the second ``at`` lies, now when it is left away. 0 when the cache does not answer:
    a kitchen at its canners must not stop for it.
    """
    key = _key(what, window_seconds, at)
    try:
        cache.add(key, 0, timeout=2 * window_seconds)
        return cache.incr(key)
    except (RedisError, ValueError) as error:
        log.warning("not_counted", reason=type(error).__name__)
        return 0


def take_back(what: str, window_seconds: int, *, at: float) -> None:
    """Count once less in the stretch of time in which the second ``at`` lies, for what was counted there."""
    try:
        cache.decr(_key(what, window_seconds, at))
    except (RedisError, ValueError) as error:
        log.warning("not_taken_back", reason=type(error).__name__)


def seconds_left(window_seconds: int) -> int:
    """Until the next stretch begins."""
    return window_seconds - int(time.time()) % window_seconds


def client_address(request: HttpRequest) -> str:
    """Who asks: the address that the outermost of the kitchen's own proxies saw, or the one that is connected.

    What stands further left in ``X-Forwarded-For`` was written by whoever asks, and is not believed.
    """
    proxies: int = settings.KITCHEN_PROXIES
    forwarded = [one.strip() for one in request.headers.get("X-Forwarded-For", "").split(",") if one.strip()]
    if proxies and forwarded:
        return forwarded[-min(proxies, len(forwarded))]
    return str(request.META.get("REMOTE_ADDR", ""))


def _key(what: str, window_seconds: int, at: float | None) -> str:
    """No address and no name stands in the cache in the clear."""
    second = time.time() if at is None else at
    digest = sha256(what.encode()).hexdigest()
    return f"count:{digest}:{int(second) // window_seconds}"
