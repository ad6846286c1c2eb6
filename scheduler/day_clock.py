"""A minute of a day as the clock on the kitchen's wall shows it."""

from __future__ import annotations

from datetime import timedelta

from scheduler.problem import Day
from scheduler.wall_clock import wall_clock


def clock_words(day: Day, minute: int) -> str:
    """``09:30``; with the date when it is another day."""
    clock = wall_clock(day.date, day.time_zone)
    return clock.words(clock.minute_of(day.origin + timedelta(minutes=minute)))
