"""Busy times worked out by ical.js, which shares no code with the library behind the kitchen's own reader."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from kitchen.helping.reading import Window

_READER = Path(__file__).parent / "busy_reader.mjs"
_MINUTE = timedelta(minutes=1)

Times = tuple[datetime, datetime]


def expand_with_ical_js(
    calendars: Sequence[str], window: Window, node_modules: Path
) -> list[tuple[Times, ...]]:
    """Each calendar's busy times within the window, as minutes that were counted one by one."""
    node = shutil.which("node")
    assert node, "node is missing (Debian: apt install nodejs)"
    module = node_modules / "ical.js" / "dist" / "ical.js"
    asked = json.dumps({"calendars": list(calendars), "until": window.ends_at.timestamp()})
    done = subprocess.run(
        [node, str(_READER), str(module)], input=asked.encode(), capture_output=True, check=True
    )
    return [
        minutes_of(
            [(_moment(starts, window.zone), _moment(ends, window.zone)) for starts, ends in told], window
        )
        for told in json.loads(done.stdout)
    ]


def minutes_of(times: Sequence[Times], window: Window) -> tuple[Times, ...]:
    """The same times, reckoned in another way than the reader's: every minute that is touched is ticked off."""
    first = window.starts_at.astimezone(UTC)
    length = (window.ends_at.astimezone(UTC) - first) // _MINUTE
    ticked = bytearray(length)
    for starts, ends in times:
        low = max(0, (starts - first) // _MINUTE)
        high = min(length, -((first - ends) // _MINUTE))
        if starts < ends and low < high:
            ticked[low:high] = b"\x01" * (high - low)
    spans, began = [], None
    for minute, busy in enumerate([*ticked, 0]):
        if busy and began is None:
            began = minute
        elif not busy and began is not None:
            spans.append((first + began * _MINUTE, first + minute * _MINUTE))
            began = None
    return tuple(spans)


def _moment(told: dict[str, str | int], zone: ZoneInfo) -> datetime:
    if "utc" in told:
        return datetime.fromtimestamp(int(told["utc"]), UTC)
    wall = str(told["wall"])
    local = (
        datetime.combine(date.fromisoformat(wall), time())
        if len(wall) == 10
        else datetime.fromisoformat(wall)
    )
    return local.replace(tzinfo=zone).astimezone(UTC)
