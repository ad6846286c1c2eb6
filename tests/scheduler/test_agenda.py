"""Calendars are read back by readers that did not write them, and never change without a reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.agenda import Entry, entry_uid, moment, to_ics, when
from tests.scheduler.calendar_readers import Seen, read_with_ical_js, read_with_ics, read_with_vobject

ZONES = ("America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kolkata")
# The changes of clocks of 2026 in UTC, from the time zone database. Kolkata has none; the same instants are
# tried there.
CHANGES = {
    "America/New_York": (datetime(2026, 3, 8, 7, tzinfo=UTC), datetime(2026, 11, 1, 6, tzinfo=UTC)),
    "Europe/Berlin": (datetime(2026, 3, 29, 1, tzinfo=UTC), datetime(2026, 10, 25, 1, tzinfo=UTC)),
    "Australia/Lord_Howe": (datetime(2026, 4, 4, 15, tzinfo=UTC), datetime(2026, 10, 3, 15, 30, tzinfo=UTC)),
    "Asia/Kolkata": (datetime(2026, 3, 8, 7, tzinfo=UTC), datetime(2026, 11, 1, 6, tzinfo=UTC)),
}
DENVER = ZoneInfo("America/Denver")
PLAIN = Entry(
    uid="load-1@kitchen.invalid",
    start=datetime(2026, 9, 12, 15, 10, tzinfo=UTC),
    end=datetime(2026, 9, 12, 16, 55, tzinfo=UTC),
    summary="Green beans, 7 quarts",
    description="Canner 1\nSat 12 Sep 2026",
    location="Mill Lane kitchen",
    sequence=2,
    last_modified=datetime(2026, 9, 1, 8, 30, 15, 250_000, tzinfo=UTC),
)


def around_the_change(zone: str, change: datetime) -> list[Entry]:
    """Entries before, over and after a change of the clocks, in local time, the repeated hour included."""
    minutes = range(-180, 181, 30)
    return [
        replace(
            PLAIN,
            uid=f"{zone}-{minute:+}",
            start=(change + timedelta(minutes=minute)).astimezone(ZoneInfo(zone)),
            end=(change + timedelta(minutes=minute + 45)).astimezone(ZoneInfo(zone)),
        )
        for minute in minutes
    ]


def as_seen(entry: Entry) -> Seen:
    """What a faithful reader must say of an entry that stands."""
    return Seen(
        uid=entry.uid,
        start=entry.start.astimezone(UTC),
        end=entry.end.astimezone(UTC),
        summary=entry.summary,
        description=entry.description,
        location=entry.location,
        status="CONFIRMED",
    )


def test_the_file_is_exactly_this() -> None:
    assert to_ics("Mill Lane, harvest day", [PLAIN]).decode() == "\r\n".join(
        (
            "BEGIN:VCALENDAR",
            "VERSION:2.0",
            "PRODID:-//Community kitchen planner//Agenda//EN",
            "CALSCALE:GREGORIAN",
            "NAME:Mill Lane\\, harvest day",
            "X-WR-CALNAME:Mill Lane\\, harvest day",
            "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
            "X-PUBLISHED-TTL:PT1H",
            "BEGIN:VEVENT",
            "SUMMARY:Green beans\\, 7 quarts",
            "DTSTART:20260912T151000Z",
            "DTEND:20260912T165500Z",
            "DTSTAMP:20260901T083015Z",
            "UID:load-1@kitchen.invalid",
            "SEQUENCE:2",
            "DESCRIPTION:Canner 1\\nSat 12 Sep 2026",
            "LAST-MODIFIED:20260901T083015Z",
            "LOCATION:Mill Lane kitchen",
            "STATUS:CONFIRMED",
            "TRANSP:OPAQUE",
            "END:VEVENT",
            "END:VCALENDAR",
            "",
        )
    )


@pytest.mark.node
@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("which", ["spring", "autumn"])
def test_three_readers_see_the_same_instants_and_text_around_a_change_of_clocks(
    zone: str, which: str, node_modules: Path
) -> None:
    entries = around_the_change(zone, CHANGES[zone][which == "autumn"])
    told = to_ics("Rota", entries)
    expected = [as_seen(entry) for entry in entries]
    assert list(read_with_ical_js([told], node_modules)[0].entries) == expected
    assert read_with_vobject(told) == expected
    assert read_with_ics(told) == expected


@pytest.mark.node
@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(titles=st.lists(st.text(max_size=120), min_size=20, max_size=60))
def test_any_title_survives_a_reader(titles: list[str], node_modules: Path) -> None:
    calendars = [
        to_ics("Rota", [replace(PLAIN, summary=title, description=title, location=title)]) for title in titles
    ]
    for title, read in zip(titles, read_with_ical_js(calendars, node_modules), strict=True):
        (entry,) = read.entries
        plain = _without_controls(title)
        assert (entry.summary, entry.description, entry.location) == (plain, plain, plain)


@pytest.mark.node
@pytest.mark.parametrize("title", ["\\N", "\\n", "a\\,b\\;c", "\\\\", "C:\\Notes\\new; old, older\n"])
def test_backslashes_survive(title: str, node_modules: Path) -> None:
    """Two readers only: ics 0.7.3 itself takes an escaped backslash before an n for a line break."""
    told = to_ics("Rota", [replace(PLAIN, summary=title)])
    (by_ical_js,) = read_with_ical_js([told], node_modules)[0].entries
    assert by_ical_js.summary == title
    assert [entry.summary for entry in read_with_vobject(told)] == [title]


def test_half_of_a_surrogate_pair_is_left_away() -> None:
    told = to_ics("Rota", [replace(PLAIN, summary="pea" + "\ud83c" + "ches")])
    assert b"SUMMARY:peaches\r\n" in told


@given(st.text(alphabet=st.sampled_from('ä€😀\u0301,;:"\\^ \tnN\n'), max_size=400))
def test_no_line_is_longer_than_75_octets_or_breaks_a_character(title: str) -> None:
    for line in to_ics(title, [replace(PLAIN, summary=title)]).split(b"\r\n"):
        assert len(line) <= 75
        line.decode()


@pytest.mark.parametrize(
    "text", ["x\r\nATTENDEE:mailto:a@example.org", "x\nEND:VCALENDAR", "x\u2028BEGIN:VALARM", "x\x0bUID:1"]
)
def test_text_cannot_add_a_line_of_its_own(text: str) -> None:
    told = to_ics(text, [replace(PLAIN, uid=text, summary=text, description=text, location=text)])
    lines = told.decode().replace("\r\n ", "").splitlines()
    assert [line.partition(":")[0].partition(";")[0] for line in lines] == [
        "BEGIN", "VERSION", "PRODID", "CALSCALE", "NAME", "X-WR-CALNAME", "REFRESH-INTERVAL",
        "X-PUBLISHED-TTL",
        "BEGIN", "SUMMARY", "DTSTART", "DTEND", "DTSTAMP", "UID", "SEQUENCE", "DESCRIPTION", "LAST-MODIFIED",
        "LOCATION", "STATUS", "TRANSP", "END", "END",
    ]  # fmt: skip


@pytest.mark.node
def test_a_cancelled_entry_says_so_twice_and_frees_the_time(node_modules: Path) -> None:
    told = to_ics("Rota", [replace(PLAIN, cancelled=True, sequence=3)])
    (read,) = read_with_ical_js([told], node_modules)
    assert (read.entries[0].status, read.entries[0].summary, read.sequences) == (
        "CANCELLED",
        "Cancelled: Green beans, 7 quarts",
        (3,),
    )
    assert b"TRANSP:TRANSPARENT" in told


def test_nothing_of_method_alarm_or_zone_is_sent() -> None:
    told = to_ics("Rota", around_the_change("Europe/Berlin", CHANGES["Europe/Berlin"][0]))
    assert [word for word in (b"METHOD", b"VALARM", b"VTIMEZONE", b"TZID") if word in told] == []


@given(st.permutations(around_the_change("America/New_York", CHANGES["America/New_York"][1])))
def test_the_bytes_do_not_depend_on_the_order_of_the_entries(entries: list[Entry]) -> None:
    in_order = around_the_change("America/New_York", CHANGES["America/New_York"][1])
    assert to_ics("Rota", entries) == to_ics("Rota", in_order)


def test_the_bytes_do_not_depend_on_the_zone_that_times_are_given_in() -> None:
    local = replace(PLAIN, start=PLAIN.start.astimezone(DENVER), end=PLAIN.end.astimezone(DENVER))
    assert to_ics("Rota", [local]) == to_ics("Rota", [PLAIN])


@pytest.mark.node
def test_readers_accept_a_calendar_without_entries(node_modules: Path) -> None:
    told = to_ics("Rota", [])
    (read,) = read_with_ical_js([told], node_modules)
    assert (read.name, read.refresh, read.entries) == ("Rota", "PT1H", ())
    assert (read_with_vobject(told), read_with_ics(told)) == ([], [])


@pytest.mark.parametrize(
    ("change", "refusal"),
    [
        ({"uid": ""}, "an entry needs a uid"),
        (
            {"start": PLAIN.start.replace(tzinfo=None)},
            "start of entry load-1@kitchen.invalid has no time zone",
        ),
        (
            {"last_modified": PLAIN.start.replace(tzinfo=None)},
            "last_modified of entry load-1@kitchen.invalid has no time zone",
        ),
        ({"end": PLAIN.start}, "entry load-1@kitchen.invalid must end after it starts"),
        ({"sequence": -1}, "the sequence of entry load-1@kitchen.invalid cannot be -1"),
    ],
)
def test_an_entry_that_cannot_be_is_refused(change: dict[str, object], refusal: str) -> None:
    with pytest.raises(ValueError, match=f"^{refusal}$"):
        replace(PLAIN, **change)  # type: ignore[arg-type]  # one wrong field at a time


def test_a_uid_is_the_booking_s_own() -> None:
    uuid = UUID("5f0c3c3e-7c5b-4bb3-9d2e-0a9f5a2b8a11")
    assert entry_uid("slot", uuid) == "slot-5f0c3c3e-7c5b-4bb3-9d2e-0a9f5a2b8a11@kitchen.invalid"


def test_local_time_in_words() -> None:
    assert when(PLAIN.start, PLAIN.end, DENVER) == "Sat 12 Sep 2026, 09:10 to 10:55 (MDT)"
    assert moment(PLAIN.start, DENVER) == "Sat 12 Sep 2026, 09:10 (MDT)"


def test_local_time_over_a_change_of_the_clocks_names_both_zones() -> None:
    change = CHANGES["America/New_York"][1]
    words = when(change - timedelta(minutes=30), change + timedelta(minutes=30), ZoneInfo("America/New_York"))
    assert words == "Sun 1 Nov 2026, 01:30 (EDT) to Sun 1 Nov 2026, 01:30 (EST)"


def test_local_time_over_midnight_names_both_dates() -> None:
    start = datetime(2026, 9, 13, 5, 30, tzinfo=UTC)
    words = when(start, start + timedelta(hours=1), DENVER)
    assert words == "Sat 12 Sep 2026, 23:30 (MDT) to Sun 13 Sep 2026, 00:30 (MDT)"


def _without_controls(text: str) -> str:
    """Told independently of the writer: each line break is ``\\n``, other controls but the tab are gone."""
    lines = "\n".join((text.replace("\r\n", "\n") + "x").splitlines())[:-1]
    return "".join(sign for sign in lines if sign in "\t\n" or (ord(sign) >= 0x20 and ord(sign) != 0x7F))
