"""Calendars to be read: a few written by hand, and random ones."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

DENVER = ZoneInfo("America/Denver")

_RULES = {
    # The rules of the time zone database for 2007 and after, and for 1996 and after.
    "America/Denver": (("0700", "0600", 3, "2SU", 2), ("0600", "0700", 11, "1SU", 2)),
    "Europe/Berlin": (("+0100", "+0200", 3, "-1SU", 2), ("+0200", "+0100", 10, "-1SU", 3)),
    "Australia/Sydney": (("+1000", "+1100", 10, "1SU", 2), ("+1100", "+1000", 4, "1SU", 3)),
}


def zone_block(name: str, rules_of: str) -> list[str]:
    """A VTIMEZONE with this id and the rules of a zone: first into summer time, then out of it."""
    lines = ["BEGIN:VTIMEZONE", f"TZID:{name}"]
    for kind, (before, after, month, day, hour) in zip(
        ("DAYLIGHT", "STANDARD"), _RULES[rules_of], strict=True
    ):
        signed = [offset if offset[0] in "+-" else f"-{offset}" for offset in (before, after)]
        lines += [
            f"BEGIN:{kind}",
            f"DTSTART:20070101T{hour:02}0000",
            f"RRULE:FREQ=YEARLY;BYMONTH={month};BYDAY={day}",
            f"TZOFFSETFROM:{signed[0]}",
            f"TZOFFSETTO:{signed[1]}",
            f"END:{kind}",
        ]
    return [*lines, "END:VTIMEZONE"]


# Two zones by names that everybody knows, and one by a name of its own that only the file explains.
ZONES = {
    "Europe/Berlin": "Europe/Berlin",
    "Australia/Sydney": "Australia/Sydney",
    "Mill clock": "America/Denver",
}


def calendar(*components: str) -> str:
    """A file of these components, with all the zones."""
    blocks = [line for name, of in ZONES.items() for line in zone_block(name, of)]
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tests//EN", *blocks]
    for component in components:
        lines += component.strip().splitlines()
    return "\r\n".join([*lines, "END:VCALENDAR", ""])


def event(*lines: str, uid: str = "one") -> str:
    """An entry of these lines."""
    return "\n".join(["BEGIN:VEVENT", f"UID:{uid}", "DTSTAMP:20260101T000000Z", *lines, "END:VEVENT"])


class _Clock:
    """How a random entry writes its times: whole days, no zone, UTC, or one of the zones."""

    def __init__(self, kind: str) -> None:
        self.kind = kind

    def prop(self, name: str, at: datetime) -> str:
        if self.kind == "day":
            return f"{name};VALUE=DATE:{at:%Y%m%d}"
        if self.kind == "none":
            return f"{name}:{at:%Y%m%dT%H%M%S}"
        if self.kind == "utc":
            return f"{name}:{at:%Y%m%dT%H%M%SZ}"
        return f"{name};TZID={self.kind}:{at:%Y%m%dT%H%M%S}"

    def until(self, at: datetime) -> str:
        """RFC 5545, 3.3.10: a date for dates, UTC where there is a zone."""
        if self.kind == "day":
            return f"{at:%Y%m%d}"
        if self.kind == "none":
            return f"{at:%Y%m%dT%H%M%S}"
        zone = UTC if self.kind == "utc" else ZoneInfo(ZONES[self.kind])
        return f"{at.replace(tzinfo=zone).astimezone(UTC):%Y%m%dT%H%M%SZ}"


def _clear(at: datetime) -> datetime:
    """A time that no change of the clocks leaves out: ical.js takes those otherwise than RFC 5545, 3.3.5, says."""
    return at + timedelta(hours=1) if at.hour == 2 else at


_DAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_STEP = {"DAILY": 1, "WEEKLY": 7}


@st.composite
def events(draw: st.DrawFn, first: date) -> list[str]:
    """One random entry with its repetitions, exceptions and changed repetitions, from a year before the window on."""
    clock = _Clock(draw(st.sampled_from(["day", "none", "utc", *ZONES])))
    whole_day = clock.kind == "day"
    start = datetime.combine(first + timedelta(days=draw(st.integers(-380, 130))), time())
    if not whole_day:
        start = _clear(start + timedelta(minutes=draw(st.integers(0, 95)) * 15))
    length = timedelta(days=draw(st.integers(1, 4)))
    if not whole_day:
        minutes = draw(st.one_of(st.integers(1, 600), st.integers(600, 4000)))
        length = _clear(start + timedelta(minutes=minutes)) - start
    lines = [clock.prop("DTSTART", start)]
    if draw(st.booleans()):
        lines.append(clock.prop("DTEND", start + length))
    elif whole_day:
        lines.append(f"DURATION:P{length.days}D")
    else:
        lines.append(f"DURATION:PT{length // timedelta(minutes=1)}M")
    lines += draw(st.sampled_from([[], [], ["TRANSP:OPAQUE"], ["TRANSP:TRANSPARENT"], ["STATUS:CANCELLED"]]))
    frequency = draw(st.sampled_from([None, "DAILY", "WEEKLY", "MONTHLY", "YEARLY"]))
    if frequency is None:
        return [event(*lines)]
    interval = draw(st.integers(1, 4))
    rule, sure = _rule(draw, clock, start, frequency, interval)
    lines.append(rule)
    others = []
    if frequency in _STEP and sure:
        # An exception to a repetition that does not exist is a fault, and programs differ about it.
        step = timedelta(days=_STEP[frequency] * interval)
        repeats = [start + number * step for number in range(1, min(sure, 80) + 1)]
        left_out = draw(st.lists(st.sampled_from(repeats), max_size=4, unique=True))
        lines += [clock.prop("EXDATE", at) for at in left_out]
        changed = draw(st.lists(st.sampled_from(repeats), max_size=3, unique=True))
        others = [_changed(draw, clock, at, length) for at in changed if at not in left_out]
    if draw(st.booleans()):
        lines.append(clock.prop("RDATE", start + timedelta(days=draw(st.integers(1, 400)))))
    return [event(*lines), *others]


def _rule(draw: st.DrawFn, clock: _Clock, start: datetime, frequency: str, interval: int) -> tuple[str, int]:
    """A rule, and how many repetitions, each so many days or weeks later, it certainly makes."""
    rule, days = f"RRULE:FREQ={frequency};INTERVAL={interval}", 1
    if frequency == "WEEKLY" and draw(st.booleans()):
        chosen = {_DAYS[start.weekday()], *draw(st.sets(st.sampled_from(_DAYS), max_size=3))}
        rule, days = f"{rule};BYDAY={','.join(sorted(chosen))}", len(chosen)
    if frequency in ("MONTHLY", "YEARLY"):
        rule += draw(st.sampled_from(_by_month(start, yearly=frequency == "YEARLY")))
    ends = draw(st.sampled_from(["", "COUNT", "UNTIL"]))
    if ends == "COUNT":
        count = draw(st.integers(1, 200))
        return f"{rule};COUNT={count}", (count - 1) // days
    if ends == "UNTIL":
        lasts = draw(st.integers(0, 500))
        sure = lasts // (_STEP.get(frequency, 1) * interval)
        return f"{rule};UNTIL={clock.until(start + timedelta(days=lasts))}", sure
    return rule, 80


def _by_month(start: datetime, *, yearly: bool) -> list[str]:
    """Ways to say when in the month, all of which hold for the start."""
    nth, day = (start.day - 1) // 7 + 1, _DAYS[start.weekday()]
    ways = [f";BYDAY={nth}{day}", f";BYMONTHDAY={start.day}", f";BYDAY={day};BYSETPOS={nth}"]
    if (start + timedelta(days=7)).month != start.month:
        ways.append(f";BYDAY=-1{day}")
    if (start + timedelta(days=1)).month != start.month:
        ways.append(";BYMONTHDAY=-1")
    return ["", *(f";BYMONTH={start.month}{way}" if yearly else way for way in ways)]


def _changed(draw: st.DrawFn, clock: _Clock, at: datetime, length: timedelta) -> str:
    """A repetition that was moved, and perhaps called off or made free."""
    moved = at + timedelta(days=draw(st.integers(-2, 2)))
    if clock.kind != "day":
        moved = _clear(moved + timedelta(minutes=draw(st.integers(-60, 60))))
    lines = [
        clock.prop("RECURRENCE-ID", at),
        clock.prop("DTSTART", moved),
        clock.prop("DTEND", _clear(moved + length * draw(st.integers(1, 2)))),
        *draw(st.sampled_from([[], [], ["TRANSP:TRANSPARENT"], ["STATUS:CANCELLED"]])),
    ]
    return event(*lines)


@st.composite
def blocks(draw: st.DrawFn, first: date) -> str:
    """A component of busy blocks of every kind, some said by their end and some by their length."""
    lines = ["BEGIN:VFREEBUSY", "UID:blocks", "DTSTAMP:20260101T000000Z"]
    for _ in range(draw(st.integers(1, 4))):
        starts = datetime.combine(first, time()) + timedelta(minutes=draw(st.integers(-2000, 180_000)))
        length = draw(st.integers(1, 3000))
        ends = (
            f"PT{length}M" if draw(st.booleans()) else f"{starts + timedelta(minutes=length):%Y%m%dT%H%M%SZ}"
        )
        kind = draw(st.sampled_from(["", ";FBTYPE=BUSY", ";FBTYPE=BUSY-UNAVAILABLE", ";FBTYPE=FREE"]))
        lines.append(f"FREEBUSY{kind}:{starts:%Y%m%dT%H%M%SZ}/{ends}")
    return "\n".join([*lines, "END:VFREEBUSY"])


@st.composite
def calendars(draw: st.DrawFn, first: date) -> str:
    """A calendar of some random entries, and sometimes busy blocks."""
    series = draw(st.lists(events(first), min_size=1, max_size=4))
    components = [
        one.replace("UID:one", f"UID:{number}") for number, group in enumerate(series) for one in group
    ]
    if draw(st.integers(0, 3)) == 0:
        components.append(draw(blocks(first)))
    return calendar(*components)
