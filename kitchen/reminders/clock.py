"""The time that reminders go by, and a second clock to judge it with."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.db import connection

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
# Linux has a clock that runs on while the machine sleeps; without it a night's sleep would look like a moved
# clock.
_ELAPSED_CLOCK: int = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What the clocks say at one moment. ``elapsed_seconds`` counts from the start that ``boot_id`` names.

    An empty ``boot_id`` means that there is nothing to judge ``wall`` by.
    """

    wall: datetime
    elapsed_seconds: float
    boot_id: str


def read_clock() -> Reading:
    """The clocks now. On PostgreSQL the wall clock is the database's, so that workers agree."""
    return Reading(wall=_wall(), elapsed_seconds=time.clock_gettime(_ELAPSED_CLOCK), boot_id=_boot_id())


def stopped_at(wall: datetime) -> Callable[[], Reading]:
    """A clock that always shows this time and cannot be judged, for a caller who says what time it is."""
    return lambda: Reading(wall=wall, elapsed_seconds=0.0, boot_id="")


def _wall() -> datetime:
    if connection.vendor != "postgresql":
        return datetime.now(UTC)
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        wall: datetime = cursor.fetchone()[0]
    return wall.astimezone(UTC)


def _boot_id() -> str:
    try:
        return _BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return ""
