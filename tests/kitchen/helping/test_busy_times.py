"""Busy times of a calendar equal those that ical.js works out, on random calendars and on hand-made ones."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from kitchen.errors import BadCalendar
from kitchen.helping import apart
from kitchen.helping.apart import read_apart
from kitchen.helping.bridge import OWN_ENTRIES
from kitchen.helping.reading import MOST_BYTES, MOST_EVENTS, Found, Window, read_busy
from tests.kitchen.helping.calendars import DENVER, calendar, calendars, event
from tests.kitchen.helping.expander import expand_with_ical_js

# Summer time ends on 1 November 2026 in Denver, on 25 October in Berlin, and begins on 4 October in Sydney.
WINDOW = Window(
    starts_at=datetime(2026, 9, 1, tzinfo=DENVER), ends_at=datetime(2026, 12, 30, tzinfo=DENVER), zone=DENVER
)
# Summer time begins on 14 March 2027 in Denver, on 28 March in Berlin, and ends on 4 April in Sydney.
SPRING = Window(
    starts_at=datetime(2027, 2, 1, tzinfo=DENVER), ends_at=datetime(2027, 6, 1, tzinfo=DENVER), zone=DENVER
)


def busy(*components: str, window: Window = WINDOW) -> list[tuple[str, str]]:
    """What is read from these components, in Denver's time."""
    return shown(read_busy(calendar(*components).encode(), window))


def shown(found: Found) -> list[tuple[str, str]]:
    return [
        (f"{starts.astimezone(DENVER):%m-%d %H:%M}", f"{ends.astimezone(DENVER):%m-%d %H:%M}")
        for starts, ends in found.spans
    ]


@pytest.mark.node
@pytest.mark.parametrize("window", [WINDOW, SPRING], ids=["autumn", "spring"])
def test_random_calendars_are_worked_out_as_another_program_does(window: Window, node_modules: Path) -> None:
    # Without shrinking: each step of it would start another program.
    @settings(
        max_examples=15,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    @given(st.lists(calendars(window.starts_at.date()), min_size=15, max_size=20))
    def compare(texts: list[str]) -> None:
        expected = expand_with_ical_js(texts, window, node_modules)
        for text, spans in zip(texts, expected, strict=True):
            assert read_busy(text.encode(), window) == Found(spans=spans), text

    compare()


def test_an_entry_takes_up_its_whole_minutes() -> None:
    assert busy(event("DTSTART:20260912T150030Z", "DTEND:20260912T155901Z")) == [
        ("09-12 09:00", "09-12 10:00")
    ]
    assert busy(event("DTSTART:20260912T150000Z", "DURATION:PT1H")) == [("09-12 09:00", "09-12 10:00")]
    assert busy(event("DTSTART:20260912T150000Z")) == []


def test_entries_that_meet_or_touch_are_one_busy_time() -> None:
    three = [
        event(f"DTSTART:20260912T{starts}00Z", f"DTEND:20260912T{ends}00Z", uid=starts)
        for starts, ends in (("1500", "1600"), ("1600", "1700"), ("1630", "1645"), ("1701", "1702"))
    ]
    assert busy(*three) == [("09-12 09:00", "09-12 11:00"), ("09-12 11:01", "09-12 11:02")]


def test_what_reaches_over_the_window_is_cut_off() -> None:
    assert busy(
        event("DTSTART:20260830T120000Z", "DTEND:20260901T160000Z", uid="before"),
        event("DTSTART:20261229T120000Z", "DTEND:20270105T120000Z", uid="after"),
        event("DTSTART:20260801T120000Z", "DTEND:20260802T120000Z", uid="past"),
    ) == [("09-01 00:00", "09-01 10:00"), ("12-29 05:00", "12-30 00:00")]


def test_free_and_cancelled_entries_make_nobody_busy() -> None:
    times = ("DTSTART:20260912T150000Z", "DTEND:20260912T160000Z")
    assert busy(event(*times, "TRANSP:TRANSPARENT")) == []
    assert busy(event(*times, "STATUS:CANCELLED")) == []
    assert busy(event(*times, "STATUS:TENTATIVE", "TRANSP:OPAQUE")) == [("09-12 09:00", "09-12 10:00")]


def test_a_day_without_times_is_a_whole_day_in_the_kitchen_s_zone() -> None:
    """1 November 2026 has 25 hours in Denver."""
    (times,) = read_busy(calendar(event("DTSTART;VALUE=DATE:20261101")).encode(), WINDOW).spans
    assert (times[1] - times[0]).total_seconds() == 25 * 3600
    assert busy(event("DTSTART;VALUE=DATE:20261101")) == [("11-01 00:00", "11-02 00:00")]


def test_a_time_without_a_zone_is_the_kitchen_s() -> None:
    entry = event("DTSTART:20260912T090000", "DTEND:20260912T100000")
    assert busy(entry) == [("09-12 09:00", "09-12 10:00")]


def test_another_zone_keeps_its_own_change_to_winter_time() -> None:
    """Berlin changes on 25 October, a week before Denver: for that week the difference is 7 hours, not 8."""
    weekly = event(
        "DTSTART;TZID=Europe/Berlin:20261018T180000",
        "DTEND;TZID=Europe/Berlin:20261018T190000",
        "RRULE:FREQ=WEEKLY;COUNT=3",
    )
    assert busy(weekly) == [
        ("10-18 10:00", "10-18 11:00"),
        ("10-25 11:00", "10-25 12:00"),
        ("11-01 10:00", "11-01 11:00"),
    ]


def test_a_zone_of_its_own_making_is_taken_from_the_file() -> None:
    entry = event("DTSTART;TZID=Mill clock:20261031T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2")
    assert busy(entry) == [("10-31 09:00", "10-31 10:00"), ("11-01 09:00", "11-01 10:00")]


def test_a_time_that_the_clocks_leave_out_counts_from_before_the_change() -> None:
    """RFC 5545, 3.3.5. On 28 March 2027 Berlin goes from 02:00 to 03:00: 02:30 is 01:30 UTC."""
    entry = event("DTSTART;TZID=Europe/Berlin:20270328T023000", "DURATION:PT15M")
    (times,) = read_busy(calendar(entry).encode(), SPRING).spans
    assert [one.strftime("%H:%M") for one in times] == ["01:30", "01:45"]


def test_a_time_that_comes_twice_is_the_first() -> None:
    """RFC 5545, 3.3.5. On 1 November 2026 Denver has 01:30 twice: the first is 07:30 UTC."""
    entry = event("DTSTART:20261101T013000", "DURATION:PT15M")
    (times,) = read_busy(calendar(entry).encode(), WINDOW).spans
    assert [one.strftime("%H:%M") for one in times] == ["07:30", "07:45"]


def test_a_night_over_the_change_of_the_clocks_ends_when_the_wall_clock_says() -> None:
    night = event("DTSTART:20261024T220000", "DTEND:20261025T060000", "RRULE:FREQ=WEEKLY;COUNT=2")
    assert busy(night) == [("10-24 22:00", "10-25 06:00"), ("10-31 22:00", "11-01 06:00")]


def test_repetitions_are_left_out_added_moved_and_called_off() -> None:
    assert busy(
        event(
            "DTSTART:20260901T090000",
            "DTEND:20260901T100000",
            "RRULE:FREQ=DAILY;UNTIL=20260905T090000",
            "EXDATE:20260902T090000",
            "RDATE;VALUE=PERIOD:20260920T120000/PT30M",
        ),
        event("RECURRENCE-ID:20260903T090000", "DTSTART:20260903T130000", "DTEND:20260903T150000"),
        event(
            "RECURRENCE-ID:20260904T090000",
            "DTSTART:20260904T090000",
            "DTEND:20260904T100000",
            "STATUS:CANCELLED",
        ),
    ) == [
        ("09-01 09:00", "09-01 10:00"),
        ("09-03 13:00", "09-03 15:00"),
        ("09-05 09:00", "09-05 10:00"),
        ("09-20 12:00", "09-20 12:30"),
    ]


def test_a_change_to_all_later_repetitions_is_followed() -> None:
    assert busy(
        event("DTSTART:20260901T090000", "DTEND:20260901T100000", "RRULE:FREQ=DAILY;COUNT=3"),
        event(
            "RECURRENCE-ID;RANGE=THISANDFUTURE:20260902T090000",
            "DTSTART:20260902T110000",
            "DTEND:20260902T120000",
        ),
    ) == [("09-01 09:00", "09-01 10:00"), ("09-02 11:00", "09-02 12:00"), ("09-03 11:00", "09-03 12:00")]


def test_two_entries_with_one_id_both_count() -> None:
    assert busy(
        event("DTSTART:20260901T090000", "DTEND:20260901T100000"),
        event("DTSTART:20260902T090000", "DTEND:20260902T100000"),
    ) == [("09-01 09:00", "09-01 10:00"), ("09-02 09:00", "09-02 10:00")]


def test_free_busy_blocks_count_but_for_free_ones() -> None:
    block = """
BEGIN:VFREEBUSY
UID:block
FREEBUSY:20260912T150000Z/20260912T160000Z,20260913T150000Z/PT30M
FREEBUSY;FBTYPE=BUSY-TENTATIVE:20260914T150000Z/PT1H
FREEBUSY;FBTYPE=BUSY-UNAVAILABLE:20260915T150000Z/PT1H
FREEBUSY;FBTYPE=FREE:20260916T150000Z/PT1H
END:VFREEBUSY"""
    assert [starts for starts, _ in busy(block)] == [
        "09-12 09:00",
        "09-13 09:00",
        "09-14 09:00",
        "09-15 09:00",
    ]


def test_the_kitchen_s_own_entries_make_nobody_busy() -> None:
    """Whoever keeps their shifts in the same calendar would never be free for them."""
    own = event("DTSTART:20260912T150000Z", "DTEND:20260912T160000Z", uid="shift-1@kitchen.invalid")
    assert busy(own) != []
    assert busy(own, window=replace(WINDOW, own=OWN_ENTRIES)) == []


@pytest.mark.parametrize(
    "wrong",
    [
        event("DTSTART;TZID=Nowhere known:20260912T150000", "DURATION:PT1H"),
        event("DTSTART:soon", "DURATION:PT1H"),
        event("DTSTART:20260912T150000Z", "DURATION:PT1H", "RRULE:FREQ=NOW AND THEN"),
        event("SUMMARY:Some time"),
    ],
)
def test_an_entry_that_cannot_be_understood_is_counted_and_the_others_are_read(wrong: str) -> None:
    good = event("DTSTART:20260912T150000Z", "DTEND:20260912T160000Z", uid="good")
    found = read_busy(calendar(wrong, good).encode(), WINDOW)
    assert (shown(found), found.skipped) == ([("09-12 09:00", "09-12 10:00")], 1)


def test_line_ends_and_marks_of_other_systems_are_taken() -> None:
    text = calendar(event("DTSTART:20260912T150000Z", "DTEND:20260912T160000Z"))
    for data in (text.replace("\r\n", "\n").encode(), text.encode("utf-8-sig")):
        assert shown(read_busy(data, WINDOW)) == [("09-12 09:00", "09-12 10:00")]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "not a calendar"),
        (b"<html>Sign in</html>", "not a calendar"),
        (b"BEGIN:VEVENT\r\nEND:VEVENT\r\n", "not a calendar"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n", "damaged"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\n" * 20_000, "damaged"),
        (calendar("BEGIN:VFREEBUSY\nFREEBUSY:soon\nEND:VFREEBUSY").encode(), "damaged"),
        (bytes(range(256)) * 10, "not a calendar"),
        (b"x" * (MOST_BYTES + 1), "larger than 1 MB"),
        (calendar(*["BEGIN:VEVENT\nEND:VEVENT"] * (MOST_EVENTS + 1)).encode(), "5001 entries"),
        (calendar(event("DTSTART:20260901T090000Z", "RRULE:FREQ=SECONDLY")).encode(), "more often"),
        (
            calendar(event("DTSTART:20260901T090000Z", "RRULE:FREQ=MINUTELY;INTERVAL=30")).encode(),
            "more often",
        ),
        (
            calendar(
                *[event("DTSTART:20260101T000000Z", "RRULE:FREQ=HOURLY", uid=f"{one}") for one in range(4)]
            ).encode(),
            "more often",
        ),
    ],
)
def test_what_is_no_calendar_or_too_much_is_refused(data: bytes, told: str) -> None:
    with pytest.raises(BadCalendar, match=told) as refused:
        read_busy(data, WINDOW)
    assert refused.value.remedy


def test_more_busy_times_than_anybody_has_are_refused() -> None:
    every_half_hour = event(
        "DTSTART:20260901T000000Z",
        "DURATION:PT1M",
        "RRULE:FREQ=DAILY;BYHOUR=" + ",".join(map(str, range(24))) + ";BYMINUTE=0,30",
    )
    with pytest.raises(BadCalendar, match="more often"):
        read_busy(calendar(every_half_hour).encode(), WINDOW)


def test_reading_apart_gives_the_same() -> None:
    data = calendar(
        event("DTSTART;TZID=Mill clock:20261031T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=5"),
        event("DTSTART:soon", uid="two"),
    ).encode()
    found = read_apart(data, WINDOW)
    assert (len(found.spans), found.skipped) == (5, 1)
    assert found == read_busy(data, WINDOW)
    with pytest.raises(BadCalendar, match="not a calendar"):
        read_apart(b"", WINDOW)


# Never on 30 February, which takes until the year 9999 to find out; and every second, said in another way.
_NEVER = "RRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30"
_ALWAYS = "RRULE:FREQ=DAILY;" + ";".join(
    f"BY{what}={','.join(map(str, range(most)))}"
    for what, most in (("HOUR", 24), ("MINUTE", 60), ("SECOND", 60))
)


@pytest.mark.parametrize("rule", [_NEVER, _ALWAYS])
@pytest.mark.parametrize(("limit", "seconds"), [("MOST_CPU_SECONDS", 2), ("MOST_WALL_SECONDS", 3)])
def test_endless_work_is_ended(rule: str, limit: str, seconds: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, limit, seconds)
    entries = [event("DTSTART:20000101T090000Z", "DURATION:PT1S", rule, uid=f"{one}") for one in range(30)]
    with pytest.raises(BadCalendar, match="too long"):
        read_apart(calendar(*entries).encode(), WINDOW)
