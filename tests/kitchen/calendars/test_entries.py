"""What stands in a calendar, for whom, and for how long."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from pytest_django import DjangoAssertNumQueries

from kitchen.batches.models import Slot, SlotState
from kitchen.calendars.bridge import day_ics, feed_ics
from kitchen.calendars.models import Feed, FeedKind
from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import Load, LoadPhase, LoadState
from kitchen.rota.models import Shift, Station
from scheduler.caution import CAUTION
from tests.factories.loads import (
    add_portion,
    load_of_one,
    make_batch,
    make_canner,
    make_day,
    make_kitchen,
    make_load,
    make_member,
)
from tests.scheduler.calendar_readers import Seen, read_with_ical_js, read_with_ics, read_with_vobject

pytestmark = pytest.mark.django_db

# A harvest day in Denver from 14:00 to 24:00 UTC, and a load in it from 15:00 to 16:50.
NOW = datetime(2026, 9, 10, 12, tzinfo=UTC)
START = datetime(2026, 9, 12, 15, tzinfo=UTC)
END = START + timedelta(minutes=110)
CHANGED = datetime(2026, 9, 1, 8, tzinfo=UTC)
# Two changes of clocks each, and one zone without; the hours around them as the time zone database has them.
ZONES = {
    "America/New_York": (datetime(2026, 3, 8, 6, 30, tzinfo=UTC), datetime(2026, 11, 1, 5, 30, tzinfo=UTC)),
    "Europe/Berlin": (datetime(2026, 3, 29, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
    "Australia/Lord_Howe": (
        datetime(2026, 4, 4, 14, 45, tzinfo=UTC),
        datetime(2026, 10, 3, 15, 15, tzinfo=UTC),
    ),
    "America/Phoenix": (datetime(2026, 3, 8, 8, 30, tzinfo=UTC), datetime(2026, 11, 1, 8, 30, tzinfo=UTC)),
}


def book(kitchen: Kitchen, member: User, start: datetime = START) -> Slot:
    """Two hours of canner time for a member."""
    canner = make_canner(kitchen)
    time = CannerTime.objects.create(
        kitchen=kitchen,
        canner=canner,
        starts_at=start,
        ends_at=start + timedelta(hours=2),
        purpose=Purpose.SLOT,
    )
    return Slot.objects.create(kitchen=kitchen, member=member, canner_time=time, changed_at=CHANGED)


def put_on_rota(load: Load, user: User) -> Shift:
    """A person at the canner for a load."""
    return Shift.objects.create(
        harvest_day=load.harvest_day,
        user=user,
        station=Station.CANNER,
        load=load,
        starts_at=START,
        ends_at=END,
        changed_at=CHANGED,
    )


def feed_for(
    user: User, kitchen: Kitchen, kind: FeedKind = FeedKind.MEMBER, canner: Canner | None = None
) -> Feed:
    """A feed that is not kept: only what it shows matters here."""
    return Feed(user=user, kitchen=kitchen, kind=kind, canner=canner)


def read(calendar: bytes) -> list[Seen]:
    """What stands in a calendar, by a reader that did not write it."""
    return read_with_vobject(calendar)


def test_a_member_sees_their_own_slots_loads_and_shifts_and_nobody_else_s() -> None:
    load = load_of_one()
    kitchen, member = load.harvest_day.kitchen, load.portions.get().batch.member
    other = make_member(kitchen, "Tom Okafor")
    add_portion(load, make_batch(load.harvest_day, other, jars=2), jars=2)
    slots = [book(kitchen, who, START + timedelta(days=days)) for days, who in enumerate((member, other), 3)]
    put_on_rota(load, member)
    put_on_rota(load, other)
    seen = {entry.summary for entry in read(feed_ics(feed_for(member, kitchen), NOW))}
    assert seen == {
        f"My jars: 7 quart jars of Green beans, {load.canner}",
        f"Canner time: {slots[0].canner_time.canner}",
        "Canner",
    }


def test_a_member_of_two_kitchens_sees_only_the_one_asked_for() -> None:
    here, there = load_of_one(), load_of_one()
    member = here.portions.get().batch.member
    add_portion(there, make_batch(there.harvest_day, member))
    book(there.harvest_day.kitchen, member)
    put_on_rota(there, member)
    seen = read(feed_ics(feed_for(member, here.harvest_day.kitchen), NOW))
    assert [entry.uid for entry in seen] == [f"portion-{here.portions.get().uuid}@kitchen.invalid"]


def test_an_entry_says_where_when_and_what_the_planner_is_not() -> None:
    load = load_of_one()
    kitchen, portion = load.harvest_day.kitchen, load.portions.get()
    LoadPhase.objects.all().delete()
    for kind, start, minutes in (("loading", 0, 5), ("heat_up", 5, 30), ("unloading", 105, 5)):
        at = START + timedelta(minutes=start)
        LoadPhase.objects.create(load=load, kind=kind, starts_at=at, ends_at=at + timedelta(minutes=minutes))
    (entry,) = read(feed_ics(feed_for(portion.batch.member, kitchen), NOW))
    assert entry == Seen(
        uid=f"portion-{portion.uuid}@kitchen.invalid",
        start=START,
        end=END,
        summary=f"My jars: 7 quart jars of Green beans, {load.canner}",
        description="\n".join(
            (
                "Sat 12 Sep 2026, 09:00 to 10:50 (MDT)",
                f"Lot {load.lot_code}",
                "09:00 loading",
                "09:05 heat up",
                "10:45 unloading",
                "",
                CAUTION,
            )
        ),
        location=kitchen.name,
        status="CONFIRMED",
    )


def test_the_days_feed_shows_loads_without_the_names_of_people() -> None:
    load = load_of_one()
    kitchen = load.harvest_day.kitchen
    add_portion(load, make_batch(load.harvest_day, make_member(kitchen, "Tom Okafor"), jars=1), jars=1)
    put_on_rota(load, make_member(kitchen, "Tom Okafor"))
    told = feed_ics(feed_for(make_member(kitchen), kitchen, FeedKind.DAYS), NOW)
    assert [entry.summary for entry in read(told)] == [
        f"{load.canner}: 7 quart jars of Green beans, 1 quart jar of Green beans"
    ]
    assert b"Okafor" not in told
    assert b"Halloran" not in told


def test_a_canner_s_feed_shows_its_loads_and_when_it_is_taken_but_not_by_whom() -> None:
    load = load_of_one()
    day, canner = load.harvest_day, load.canner
    elsewhere = make_load(day)
    add_portion(elsewhere, make_batch(day, make_member(day.kitchen)))
    slot = book(day.kitchen, make_member(day.kitchen, "Tom Okafor"), START + timedelta(days=4))
    of_canner = book(day.kitchen, make_member(day.kitchen, "Bea Lund"), START + timedelta(days=5))
    CannerTime.objects.filter(pk=of_canner.canner_time_id).update(canner=canner)
    told = feed_ics(feed_for(make_member(day.kitchen), day.kitchen, FeedKind.CANNER, canner), NOW)
    seen = {entry.uid: entry.summary for entry in read(told)}
    assert seen == {
        f"load-{load.uuid}@kitchen.invalid": f"{canner}: 7 quart jars of Green beans",
        f"taken-{of_canner.uuid}@kitchen.invalid": f"{canner}: taken",
    }
    assert slot.canner_time.canner != canner
    assert not any(name in told for name in (b"Lund", b"Halloran", b"Okafor"))
    Slot.objects.filter(pk=of_canner.pk).update(state=SlotState.CANCELLED, cancelled_at=NOW)
    told = feed_ics(feed_for(make_member(day.kitchen), day.kitchen, FeedKind.CANNER, canner), NOW)
    assert {entry.uid: entry.status for entry in read(told)} == {
        f"load-{load.uuid}@kitchen.invalid": "CONFIRMED",
        f"taken-{of_canner.uuid}@kitchen.invalid": "CANCELLED",
    }


def test_the_rota_s_feed_shows_everybody_s_shifts_and_the_open_ones() -> None:
    load = load_of_one()
    kitchen = load.harvest_day.kitchen
    put_on_rota(load, make_member(kitchen, "Tom Okafor"))
    given_up = put_on_rota(load, make_member(kitchen, "Bea Lund"))
    Shift.objects.filter(pk=given_up.pk).update(cancelled_at=NOW)
    wanted = put_on_rota(load, make_member(kitchen, "Ola Brandt"))
    Shift.objects.filter(pk=wanted.pk).update(user=None)
    another = load_of_one()
    put_on_rota(another, make_member(another.harvest_day.kitchen, "Nils Aho"))
    told = read(feed_ics(feed_for(make_member(kitchen), kitchen, FeedKind.ROTA), NOW))
    assert sorted((entry.summary, entry.status) for entry in told) == [
        ("Cancelled: Canner: Bea Lund", "CANCELLED"),
        ("Canner: Tom Okafor", "CONFIRMED"),
        ("Canner: open, somebody is wanted", "CONFIRMED"),
    ]


def test_a_day_file_shows_the_day_s_loads_and_who_is_where() -> None:
    load = load_of_one()
    day = load.harvest_day
    another = make_load(make_day(day.kitchen, date(2026, 9, 19)))
    add_portion(another, make_batch(another.harvest_day, make_member(day.kitchen)))
    put_on_rota(load, make_member(day.kitchen, "Tom Okafor"))
    given_up = put_on_rota(load, make_member(day.kitchen, "Bea Lund"))
    Shift.objects.filter(pk=given_up.pk).update(cancelled_at=NOW)
    told = read(day_ics(day))
    assert {entry.summary for entry in told} == {
        f"{load.canner}: 7 quart jars of Green beans",
        "Canner: Tom Okafor",
    }


def test_a_cancelled_entry_is_shown_as_such_for_seven_days_and_then_dropped() -> None:
    load = load_of_one()
    kitchen, member = load.harvest_day.kitchen, load.portions.get().batch.member
    slot, shift = book(kitchen, member, START + timedelta(days=20)), put_on_rota(load, member)
    cancelled_at = START - timedelta(days=20)
    Slot.objects.filter(pk=slot.pk).update(state=SlotState.CANCELLED, cancelled_at=cancelled_at)
    Shift.objects.filter(pk=shift.pk).update(cancelled_at=cancelled_at)
    Load.objects.filter(pk=load.pk).update(state=LoadState.CANCELLED, cancelled_at=cancelled_at)
    feed = feed_for(member, kitchen)
    for days, expected in ((0, 3), (6.99, 3), (7, 0), (19, 0)):
        seen = read(feed_ics(feed, cancelled_at + timedelta(days=days)))
        assert [entry.status for entry in seen] == ["CANCELLED"] * expected
        assert all(entry.summary.startswith("Cancelled: ") for entry in seen)


def test_a_cancelled_entry_goes_when_its_time_is_past() -> None:
    kitchen = make_kitchen()
    member = make_member(kitchen)
    slot = book(kitchen, member)
    cancelled_at = START - timedelta(days=1)
    Slot.objects.filter(pk=slot.pk).update(state=SlotState.CANCELLED, cancelled_at=cancelled_at)
    ends = slot.canner_time.ends_at
    counts = [
        len(read(feed_ics(feed_for(member, kitchen), at))) for at in (ends - timedelta(seconds=1), ends)
    ]
    assert counts == [1, 0]


def test_old_entries_are_dropped_after_a_quarter() -> None:
    load = load_of_one()
    kitchen, member = load.harvest_day.kitchen, load.portions.get().batch.member
    book(kitchen, member)
    put_on_rota(load, member)
    feed = feed_for(member, kitchen)
    assert len(read(feed_ics(feed, START + timedelta(days=89)))) == 3
    assert read(feed_ics(feed, START + timedelta(days=91))) == []


def test_a_load_without_phases_is_not_shown() -> None:
    load = load_of_one()
    LoadPhase.objects.all().delete()
    kitchen, member = load.harvest_day.kitchen, load.portions.get().batch.member
    assert read(feed_ics(feed_for(member, kitchen), NOW)) == []
    assert read(day_ics(load.harvest_day)) == []


@pytest.mark.node
def test_the_sequence_rises_with_a_change_and_the_uid_stays(node_modules: Path) -> None:
    kitchen = make_kitchen()
    member = make_member(kitchen)
    slot = book(kitchen, member)
    before = feed_ics(feed_for(member, kitchen), NOW)
    CannerTime.objects.filter(pk=slot.canner_time_id).update(ends_at=START + timedelta(hours=3))
    Slot.objects.filter(pk=slot.pk).update(sequence=1, changed_at=CHANGED + timedelta(days=1))
    after = feed_ics(feed_for(member, kitchen), NOW)
    old, new = read_with_ical_js([before, after], node_modules)
    assert (old.sequences, new.sequences) == ((0,), (1,))
    assert old.entries[0].uid == new.entries[0].uid == f"slot-{slot.uuid}@kitchen.invalid"
    assert new.entries[0].end == START + timedelta(hours=3)


@pytest.mark.node
@pytest.mark.parametrize("zone", list(ZONES))
@pytest.mark.parametrize("which", ["spring", "autumn"])
def test_three_readers_see_the_same_instants_around_a_change_of_clocks(
    zone: str, which: str, node_modules: Path
) -> None:
    start = ZONES[zone][which == "autumn"]
    kitchen = make_kitchen(time_zone=zone, name=f"Küche «{zone}»; a, b")
    member = make_member(kitchen)
    slots = [book(kitchen, member, start + timedelta(minutes=minutes)) for minutes in (-90, -30, 0, 30, 90)]
    told = feed_ics(feed_for(member, kitchen), start - timedelta(days=3))
    (by_ical_js,) = read_with_ical_js([told], node_modules)
    assert [(entry.start, entry.end) for entry in by_ical_js.entries] == [
        (slot.canner_time.starts_at, slot.canner_time.ends_at) for slot in slots
    ]
    assert list(by_ical_js.entries) == read_with_vobject(told) == read_with_ics(told)
    assert {entry.location for entry in by_ical_js.entries} == {kitchen.name}


def test_the_number_of_queries_does_not_grow_with_the_calendar(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    load = load_of_one()
    day, member = load.harvest_day, load.portions.get().batch.member
    feed, days = feed_for(member, day.kitchen), feed_for(member, day.kitchen, FeedKind.DAYS)
    rota = feed_for(member, day.kitchen, FeedKind.ROTA)
    of_canner = feed_for(member, day.kitchen, FeedKind.CANNER, load.canner)
    for _ in range(2):
        put_on_rota(load, member)
        book(day.kitchen, member)
        add_portion(make_load(day), make_batch(day, member))
        with django_assert_num_queries(5):
            feed_ics(feed, NOW)
        with django_assert_num_queries(3):
            feed_ics(days, NOW)
        with django_assert_num_queries(1):
            feed_ics(rota, NOW)
        with django_assert_num_queries(4):
            feed_ics(of_canner, NOW)
        with django_assert_num_queries(4):
            day_ics(day)
