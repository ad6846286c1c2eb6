"""A minute of a day as the clock on the kitchen's wall shows it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import lru_cache

from scheduler.problem import Day
from scheduler.wall_clock import wall_clock


def clock_words(day: Day, minute: int) -> str:
    """``09:30``; with the date when it is another day."""
    return _words(day.date, day.time_zone, day.origin, minute)


# A plan in words names the same few hundred minutes of a day again and again.
@lru_cache(maxsize=4096)
def _words(date: date, time_zone: str, origin: datetime, minute: int) -> str:
    clock = wall_clock(date, time_zone)
    return clock.words(clock.minute_of(origin + timedelta(minutes=minute)))
