"""What carries hints to the worker: files in the data folder, or a Redis server.

No fact lives in a message.
"""

from __future__ import annotations

from pathlib import Path

from kitchen.configuration.address import read_address

VARIABLE = "KITCHEN_BROKER_URL"

_EXAMPLE = "redis://127.0.0.1:6379/0"
_ANSWER_SECONDS = 0.5
_MOST_PIECES = 1_000
"""Some 10 kB each, packed."""
_PIECE_SECONDS = 24 * 3600


def broker_url(url: str | None) -> str:
    """The broker's address; without one the embedded broker of files."""
    if url is None:
        return "filesystem://localhost"
    read_address(url, variable=VARIABLE, schemes=frozenset({"redis", "rediss"}), example=_EXAMPLE)
    return url


def broker_options(url: str | None, data: Path) -> dict[str, object]:
    """How to speak to the broker.

    A Redis server that does not answer fails fast: a page must not wait for a hint.
    """
    if url is not None:
        return {"socket_connect_timeout": _ANSWER_SECONDS}
    queue = data / "queue"
    return {
        "data_folder_in": str(queue / "messages"),
        "data_folder_out": str(queue / "messages"),
        "control_folder": str(queue / "control"),
        "store_processed": False,
    }


def caches(url: str | None) -> dict[str, dict[str, object]]:
    """Django's caches: in the one web process, or in the Redis server that several share.

    Counts of attempts stand in the default one. ``pieces`` of pages have a room of their own, in which the newest push
    out others, and are thrown away after a day.
    """
    if url is None:
        local = "django.core.cache.backends.locmem.LocMemCache"
        return {
            "default": {"BACKEND": local},
            "pieces": {
                "BACKEND": local,
                "LOCATION": "pieces",
                "TIMEOUT": _PIECE_SECONDS,
                "OPTIONS": {"MAX_ENTRIES": _MOST_PIECES},
            },
        }
    shared = {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": url,
        "OPTIONS": {"socket_connect_timeout": _ANSWER_SECONDS, "socket_timeout": _ANSWER_SECONDS},
    }
    return {
        "default": {**shared, "KEY_PREFIX": "kitchen"},
        "pieces": {**shared, "KEY_PREFIX": "kitchen-pieces", "TIMEOUT": _PIECE_SECONDS},
    }
