"""Plain entries as an iCalendar file (RFC 5545): the same entries always give the same bytes.

Times are written in UTC and no VTIMEZONE is sent: every entry stands once, so nothing is gained by a zone,
and readers that take a generated VTIMEZONE at its word have shown summer entries an hour off. Local time
belongs into an entry's description; see ``when``. There is no METHOD, so DTSTAMP means "last revised" (RFC
5545, 3.8.7.2) and equals LAST-MODIFIED, and there is no VALARM: big clients drop alarms of calendars that are
subscribed to, so nothing may rest on one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event
from icalendar.prop import vDuration, vText

PRODUCT = "-//Community kitchen planner//Agenda//EN"
CANCELLED_PREFIX = "Cancelled: "
"""Put before the title as well, because some clients show a cancelled entry like any other."""

# ".invalid" is nobody's domain (RFC 2606), so these ids cannot meet another program's. Never change it:
# clients would show every entry twice.
_UID_DOMAIN = "kitchen.invalid"
# How often a client is asked to look again (RFC 7986, 5.7). A hint: big clients take hours, up to a day.
_REFRESH = timedelta(hours=1)
# What readers may take for the end of a line, RFC 5545 or not.
_LINE_BREAK = re.compile("\r\n|[\r\n\v\f\x1c\x1d\x1e\x85\u2028\u2029]")
# RFC 5545, 3.1: CONTROL may not stand in text, but for the tab. Half of a surrogate pair has no UTF-8.
_NOT_TEXT = re.compile("[\x00-\x08\x0e-\x1f\x7f\ud800-\udfff]")
_ESCAPED = re.compile(rb"[\\;,\n]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One thing at one time, as a calendar shows it.

    ``uid`` stays the same for the life of what is booked; ``sequence`` rises when the times change or the
    entry is cancelled, and ``last_modified`` with every change. Times may be given in any zone and are kept
    in UTC, in whole seconds: two times in one zone compare by the clock on the wall, which runs twice through
    an hour in autumn. Refused, with ``ValueError``: an empty uid, times without a zone, an end that is not
    after the start, a sequence below zero.
    """

    uid: str
    start: datetime
    end: datetime
    summary: str
    description: str
    location: str
    sequence: int
    last_modified: datetime
    cancelled: bool = False

    def __post_init__(self) -> None:
        if not self.uid:
            raise ValueError("an entry needs a uid")
        for name in ("start", "end", "last_modified"):
            at: datetime = getattr(self, name)
            if at.utcoffset() is None:
                raise ValueError(f"{name} of entry {self.uid} has no time zone")
            object.__setattr__(self, name, at.astimezone(UTC).replace(microsecond=0))
        if self.end <= self.start:
            raise ValueError(f"entry {self.uid} must end after it starts")
        if self.sequence < 0:
            raise ValueError(f"the sequence of entry {self.uid} cannot be {self.sequence}")


def to_ics(name: str, entries: Iterable[Entry]) -> bytes:
    """The entries as one calendar called ``name``, in the order of their start, in UTF-8.

    Parts of a second are left away. Line breaks of any kind become ``\\n``; other control characters are left
    away. Without entries the calendar is empty, which RFC 5545 does not foresee but every reader tried
    accepts.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", _text(name))
    calendar.add("x-wr-calname", _text(name))
    calendar.add("refresh-interval", vDuration(_REFRESH), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(_REFRESH))
    for entry in sorted(entries, key=lambda entry: (entry.start, entry.uid)):
        calendar.add_component(_event(entry))
    return bytes(calendar.to_ical())


def entry_uid(kind: str, uuid: UUID) -> str:
    """The uid of a booking of this kind, for instance ``slot``: the same in every file and on every host."""
    return f"{kind}-{uuid}@{_UID_DOMAIN}"


def when(start: datetime, end: datetime, zone: ZoneInfo) -> str:
    """A span in a kitchen's local time, for a description: ``Sat 24 Oct 2026, 09:10 to 10:55 (MDT)``.

    Across midnight, or a change of the clocks, the end carries its own date and zone name.
    """
    first, last = start.astimezone(zone), end.astimezone(zone)
    if (first.date(), first.tzname()) == (last.date(), last.tzname()):
        return f"{first:%a %-d %b %Y, %H:%M} to {last:%H:%M} ({last.tzname()})"
    return f"{moment(start, zone)} to {moment(end, zone)}"


def moment(at: datetime, zone: ZoneInfo) -> str:
    """A moment in a kitchen's local time: ``Sat 24 Oct 2026, 09:10 (MDT)``."""
    local = at.astimezone(zone)
    return f"{local:%a %-d %b %Y, %H:%M} ({local.tzname()})"


def _event(entry: Entry) -> Event:
    event = Event()
    event.add("uid", _text(entry.uid))
    event.add("dtstart", entry.start)
    event.add("dtend", entry.end)
    event.add("dtstamp", entry.last_modified)
    event.add("last-modified", entry.last_modified)
    event.add("sequence", entry.sequence)
    event.add("summary", _text((CANCELLED_PREFIX if entry.cancelled else "") + entry.summary))
    event.add("description", _text(entry.description))
    event.add("location", _text(entry.location))
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    event.add("transp", "TRANSPARENT" if entry.cancelled else "OPAQUE")
    return event


class _Text(vText):
    """Text escaped by RFC 5545, 3.3.11. The library takes a backslash before an N in the text for a line break."""

    def to_ical(self) -> bytes:
        """The text with its backslashes, semicolons, commas and line breaks escaped."""
        return _ESCAPED.sub(lambda sign: b"\\n" if sign[0] == b"\n" else b"\\" + sign[0], self.encode())


def _text(text: str) -> vText:
    return _Text(_NOT_TEXT.sub("", _LINE_BREAK.sub("\n", text)))
