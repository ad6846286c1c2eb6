"""Readers of calendars that share no code with the library that writes ours: ical.js, vobject and ics."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import ics
import vobject

_READER = Path(__file__).parent / "ical_reader.mjs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """An entry as a reader understood it. Readers give an absent text as an empty one."""

    uid: str
    start: datetime
    end: datetime
    summary: str
    description: str
    location: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenCalendar:
    """A calendar as ical.js understood it."""

    name: str
    refresh: str
    entries: tuple[Seen, ...]
    sequences: tuple[int, ...]


def read_with_ical_js(calendars: Sequence[bytes], node_modules: Path) -> list[SeenCalendar]:
    """Each calendar as ical.js reads it, all in one run of node."""
    node = shutil.which("node")
    assert node, "node is missing (Debian: apt install nodejs)"
    module = node_modules / "ical.js" / "dist" / "ical.js"
    asked = json.dumps([calendar.decode() for calendar in calendars])
    command = [node, str(_READER), str(module)]
    done = subprocess.run(command, input=asked.encode(), capture_output=True, check=True)
    return [_seen_calendar(told) for told in json.loads(done.stdout)]


def read_with_vobject(calendar: bytes) -> list[Seen]:
    """The calendar's entries as vobject reads them."""
    parsed = vobject.readOne(calendar.decode())
    return [
        Seen(
            uid=event.uid.value,
            start=event.dtstart.value.astimezone(UTC),
            end=event.dtend.value.astimezone(UTC),
            summary=event.summary.value,
            description=event.description.value,
            location=event.location.value,
            status=event.status.value,
        )
        for event in parsed.contents.get("vevent", [])
    ]


def read_with_ics(calendar: bytes) -> list[Seen]:
    """The calendar's entries as ics reads them."""
    return [
        Seen(
            uid=event.uid,
            start=event.begin.datetime.astimezone(UTC),
            end=event.end.datetime.astimezone(UTC),
            summary=event.name or "",
            description=event.description or "",
            location=event.location or "",
            status=event.status,
        )
        for event in sorted(ics.Calendar(calendar.decode()).events)
    ]


def _seen_calendar(told: dict[str, object]) -> SeenCalendar:
    events = told["events"]
    assert isinstance(events, list)
    return SeenCalendar(
        name=str(told["name"]),
        refresh=str(told["refresh"]),
        entries=tuple(_seen(event) for event in events),
        sequences=tuple(event["sequence"] for event in events),
    )


def _seen(event: dict[str, str | None]) -> Seen:
    return Seen(
        uid=event["uid"] or "",
        start=datetime.fromisoformat(event["start"] or ""),
        end=datetime.fromisoformat(event["end"] or ""),
        summary=event["summary"] or "",
        description=event["description"] or "",
        location=event["location"] or "",
        status=event["status"] or "",
    )
