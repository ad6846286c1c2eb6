"""What reminders take from the planner: its caution, its way of saying a time, its calendars and a gauge's last day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import datetime

from scheduler.agenda import Entry, moment, to_ics
from scheduler.canner import a_year_after
from scheduler.caution import CAUTION

__all__ = ["CAUTION", "a_year_after", "calendar_of", "facts_of", "moment"]

_TIMES = ("start", "end", "last_modified")


def facts_of(entry: Entry) -> dict[str, object]:
    """An entry of a calendar as a reminder keeps it until it is sent."""
    return asdict(entry) | {name: getattr(entry, name).isoformat() for name in _TIMES}


def calendar_of(name: str, kept: Iterable[Mapping[str, object]]) -> bytes:
    """The entries that a reminder kept, as a calendar. They bear the same ids as in the person's feed."""
    entries = (
        Entry(**(dict(one) | {time: datetime.fromisoformat(str(one[time])) for time in _TIMES}))  # type: ignore[arg-type]
        for one in kept
    )
    return to_ics(name, entries)
