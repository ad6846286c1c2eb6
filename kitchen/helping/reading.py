"""A calendar file (RFC 5545) as the times in which its owner is busy. Plain Python without database or network.

What counts: entries that take up time (TRANSP is not TRANSPARENT) and still stand (STATUS is not CANCELLED), with all
their repetitions, and the busy blocks of VFREEBUSY. A day without times is a whole day in the kitchen's zone, and a
time without a zone is the kitchen's. The end of a repetition is reckoned on the wall clock, as calendar programs show
it: "to seven" stays seven on the night the clocks change.

A file may be made to be endless work. So it is read in a process of its own with limits; see ``apart``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from icalendar import Calendar, Component
from icalendar.prop import vDDDTypes, vPeriod, vRecur
from recurring_ical_events import CalendarQuery

from kitchen.errors import BadCalendar

MOST_BYTES = 1_000_000
"""The size of a file. Years of a busy person's entries take less; a guard, not a figure of any standard."""
MOST_EVENTS = 5_000
MOST_OCCURRENCES = 10_000
MOST_SPANS = 3_000
# A repetition every minute or second is no appointment, and takes millions of steps to follow.
_TOO_OFTEN = frozenset({"MINUTELY", "SECONDLY"})
_TIMES = ("DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID")
# What the libraries raise for values that contradict each other; OSError for a zone whose name is too long for a file.
_CONTRADICTION = (ValueError, TypeError, KeyError, AttributeError, OverflowError, IndexError, OSError)
_MARGIN = timedelta(days=1)
_MINUTE = timedelta(minutes=1)

Times = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """From when to when busy times are looked for, in the kitchen's zone, in whole minutes.

    ``own`` is the domain of the ids of the kitchen's own entries, which make nobody busy: members may keep their
    shifts in the same calendar.
    """

    starts_at: datetime
    ends_at: datetime
    zone: ZoneInfo
    own: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Busy times in UTC, in whole minutes, sorted and apart from each other.

    ``skipped`` counts the entries that could not be understood.
    """

    spans: tuple[Times, ...]
    skipped: int = 0


def read_busy(data: bytes, window: Window) -> Found:
    """The busy times within the window. ``BadCalendar`` for what is no calendar, or more than can be worked out."""
    calendars = _parsed(data)
    events = [event for one in calendars for event in one.walk("VEVENT")]
    if len(events) > MOST_EVENTS:
        raise BadCalendar(
            f"This calendar has {len(events)} entries.",
            remedy=f"Export a shorter time: at most {MOST_EVENTS} entries can be read.",
        )
    times: list[Times] = []
    skipped = 0
    for series in _series(events):
        try:
            times += _occurrences(series, window, room=MOST_OCCURRENCES - len(times))
        except _CONTRADICTION:
            skipped += 1
    for one in calendars:
        for block in one.walk("VFREEBUSY"):
            try:
                times += _blocks(block, window)
            except _CONTRADICTION:
                skipped += 1
    spans = merged(_clipped(times, window))
    if len(spans) > MOST_SPANS:
        raise _too_many()
    return Found(spans=spans, skipped=skipped)


def merged(times: Iterable[Times]) -> tuple[Times, ...]:
    """The same moments as sorted times that neither meet nor touch."""
    kept: list[Times] = []
    for starts, ends in sorted(times):
        if kept and starts <= kept[-1][1]:
            kept[-1] = (kept[-1][0], max(kept[-1][1], ends))
        else:
            kept.append((starts, ends))
    return tuple(kept)


def _parsed(data: bytes) -> list[Component]:
    if len(data) > MOST_BYTES:
        raise BadCalendar(
            "This calendar is larger than 1 MB.",
            remedy="Export a shorter time, or only the calendar you need.",
        )
    if b"BEGIN:VCALENDAR" not in data.upper():
        raise BadCalendar(
            "This is not a calendar in the iCalendar form.",
            remedy="Export it from your calendar program as .ics.",
        )
    try:
        found: list[Component] = list(Calendar.from_ical(data, multiple=True))
    except _CONTRADICTION as error:
        raise _damaged() from error
    calendars = [one for one in found if one.name == "VCALENDAR"]
    if not calendars:
        raise _damaged()
    return calendars


def _damaged() -> BadCalendar:
    return BadCalendar(
        "This calendar is damaged: it cannot be read to its end.",
        remedy="Export it again from your calendar program.",
    )


def _too_many() -> BadCalendar:
    return BadCalendar(
        "This calendar repeats more often than can be worked out.",
        remedy="Leave out entries that repeat every few minutes, or export a shorter time.",
    )


def _series(events: Iterable[Component]) -> Iterator[list[Component]]:
    """The entries that belong together: one that repeats, and what became of single repetitions.

    Two entries of one id that are both no changed repetition are a fault of the file. Both count: whoever is busy by
    one of them is not free.
    """
    groups: defaultdict[str, list[Component]] = defaultdict(list)
    for number, event in enumerate(events):
        groups[str(event.get("UID") or f"without an id, {number}")].append(event)
    for group in groups.values():
        changed = [event for event in group if "RECURRENCE-ID" in event]
        own = [event for event in group if "RECURRENCE-ID" not in event]
        yield from ([event, *changed] for event in own)
        if not own:
            yield changed


def _occurrences(series: list[Component], window: Window, room: int) -> list[Times]:
    if window.own and str(series[0].get("UID", "")).endswith(f"@{window.own}"):
        return []
    whole = Calendar()
    for event in series:
        _check_understood(event)
        whole.add_component(event)
    # A margin around the window, because days and times without a zone are compared on the wall clock.
    found = CalendarQuery(whole).between(
        (window.starts_at - _MARGIN).astimezone(window.zone),
        (window.ends_at + _MARGIN).astimezone(window.zone),
    )
    if len(found) > room:
        raise _too_many()
    return [
        (_moment(one["DTSTART"].dt, window.zone), _moment(one["DTEND"].dt, window.zone))
        for one in found
        if _takes_time(one)
    ]


def _check_understood(event: Component) -> None:
    """Refuse, with ``ValueError``, an entry with a broken time or one in a zone that nobody explains."""
    broken = [name for name, _ in event.errors if name in _TIMES]
    if broken:
        raise ValueError(f"{broken[0]} cannot be understood")
    for rule in _listed(event.get("RRULE")):
        if isinstance(rule, vRecur) and _TOO_OFTEN & {str(word).upper() for word in rule.get("FREQ", ())}:
            raise _too_many()
    for name in ("DTSTART", "DTEND", "RECURRENCE-ID"):
        value = event.get(name)
        if isinstance(value, vDDDTypes) and "TZID" in value.params and _without_zone(value.dt):
            raise ValueError(f"the time zone {value.params['TZID']} is not explained")


def _without_zone(value: object) -> bool:
    return isinstance(value, datetime) and value.tzinfo is None


def _takes_time(event: Component) -> bool:
    if str(event.get("TRANSP", "OPAQUE")).upper() == "TRANSPARENT":
        return False
    return str(event.get("STATUS", "")).upper() != "CANCELLED"


def _blocks(component: Component, window: Window) -> list[Times]:
    blocks = []
    for period in _listed(component.get("FREEBUSY")):
        if not isinstance(period, vPeriod):
            raise ValueError("FREEBUSY is not a list of periods")
        if str(period.params.get("FBTYPE", "BUSY")).upper() != "FREE":
            blocks.append((_moment(period.start, window.zone), _moment(period.end, window.zone)))
    return blocks


# Any property may stand once or several times; the library then gives the value or a list.
def _listed(value: object) -> list[object]:
    if value is None:
        return []
    return value if isinstance(value, list) else [value]


def _moment(value: date, zone: ZoneInfo) -> datetime:
    """A date or time of the file in UTC."""
    if not isinstance(value, datetime):
        value = datetime.combine(value, time(), zone)
    elif value.tzinfo is None:
        value = value.replace(tzinfo=zone)
    return value.astimezone(UTC)


def _clipped(times: Iterable[Times], window: Window) -> Iterator[Times]:
    """Whole minutes that hold the times, within the window. What takes no time is left away."""
    first, last = window.starts_at.astimezone(UTC), window.ends_at.astimezone(UTC)
    for starts, ends in times:
        whole = ends.replace(second=0, microsecond=0)
        clipped = (
            max(first, starts.replace(second=0, microsecond=0)),
            min(last, whole if whole == ends else whole + _MINUTE),
        )
        if starts < ends and clipped[0] < clipped[1]:
            yield clipped
