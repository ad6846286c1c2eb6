"""Reading a calendar in a process of its own, with limits on time and memory.

A small file can ask for endless repetitions, or explain a time zone of its own making, which the library then keeps for
the life of the process. Neither may touch the server, so the file is read apart and only spans come back.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from kitchen.errors import BadCalendar
from kitchen.helping.reading import Found, Window, read_busy

# An honest file of 1 MB takes about 4 seconds on an old machine; what takes thrice as long is refused.
MOST_CPU_SECONDS = 12
MOST_WALL_SECONDS = 25
_MOST_MEMORY = 1 << 30
_PROGRAM = Path(__file__).resolve().parents[2]


def read_apart(data: bytes, window: Window) -> Found:
    """As ``read_busy``, in another process that is ended when it takes too long: then it is ``BadCalendar`` too."""
    asked = [
        window.starts_at.astimezone(UTC).isoformat(),
        window.ends_at.astimezone(UTC).isoformat(),
        window.zone.key,
        window.own,
        str(MOST_CPU_SECONDS),
    ]
    try:
        done = subprocess.run(
            [sys.executable, "-m", "kitchen.helping.apart", *asked],
            input=data,
            capture_output=True,
            cwd=_PROGRAM,
            timeout=MOST_WALL_SECONDS,
            check=True,
        )
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as error:
        raise BadCalendar(
            "This calendar takes too long to work out.",
            remedy="Export a shorter time, or leave out entries that repeat very often.",
        ) from error
    told = json.loads(done.stdout)
    if "message" in told:
        raise BadCalendar(told["message"], remedy=told["remedy"])
    spans = tuple(
        (datetime.fromisoformat(starts), datetime.fromisoformat(ends)) for starts, ends in told["spans"]
    )
    return Found(spans=spans, skipped=told["skipped"])


def _answer(data: bytes, window: Window) -> dict[str, object]:
    try:
        found = read_busy(data, window)
    except BadCalendar as refusal:
        return {"message": refusal.message, "remedy": refusal.remedy}
    spans = [(starts.isoformat(), ends.isoformat()) for starts, ends in found.spans]
    return {"spans": spans, "skipped": found.skipped}


def _main(starts_at: str, ends_at: str, zone: str, own: str, seconds: str) -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds)))
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))
    window = Window(
        starts_at=datetime.fromisoformat(starts_at),
        ends_at=datetime.fromisoformat(ends_at),
        zone=ZoneInfo(zone),
        own=own,
    )
    json.dump(_answer(sys.stdin.buffer.read(), window), sys.stdout)


if __name__ == "__main__":
    _main(*sys.argv[1:])
