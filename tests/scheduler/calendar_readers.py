"""Readers of calendars that share no code with the library that writes ours: ical.js, vobject and ics."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import ics
import pytest
import vobject

_HERE = Path(__file__).parent
_ICAL_JS = _HERE.parents[1] / ".build" / "node_modules" / "ical.js" / "dist" / "ical.js"


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


def read_with_ical_js(calendars: Sequence[bytes]) -> list[SeenCalendar]:
    """Each calendar read by ical.js in one run of node. Without node or ical.js: skipped, in CI failed."""
    node = shutil.which("node")
    if node is None or not _ICAL_JS.exists():
        reason = "ical.js or node is missing: npm install --prefix .build ical.js@2.2.1"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    asked = json.dumps([calendar.decode() for calendar in calendars])
    command = [node, str(_HERE / "ical_reader.mjs"), str(_ICAL_JS)]
    done = subprocess.run(command, input=asked.encode(), capture_output=True, check=True, timeout=120)  # noqa: S603  (our own reader)
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
