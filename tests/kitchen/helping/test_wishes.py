"""What members ask of a rota, their calendars, and the hours that are left when busy times are taken out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitchen.audit.models import AuditEvent
from kitchen.celery import app
from kitchen.errors import AlreadyDecided, BadCalendar, BadWishes, NotAllowed
from kitchen.helping.actions import (
    MOST_IN_A_SWEEP,
    READ_EVERY,
    READ_TASK,
    SWEEP_SECONDS,
    TRY_AGAIN,
    follow_address,
    forget_calendar,
    read_again,
    read_due,
    set_wishes,
    take_file,
)
from kitchen.helping.bridge import busy_between, hours_without_busy
from kitchen.helping.models import BusyCalendar, BusySpan, Feeling, Station, StationWish, Wishes
from kitchen.helping.queries import Said, clashes_of, said_in
from kitchen.members.actions import end_membership
from kitchen.members.models import Kitchen, Membership, User
from kitchen.rota.models import Attendance
from tests.factories.sites import DAY, Site, make_open_day, make_site
from tests.kitchen.helping.calendars import calendar, event

pytestmark = pytest.mark.django_db

ADDRESS = "https://dates.example/secret-key.ics"
NOW = datetime(2026, 9, 11, 15, tzinfo=UTC)
"""The morning before the harvest day."""
BUSY_AT_NOON = calendar(event("DTSTART:20260912T120000", "DTEND:20260912T140000")).encode()


@pytest.fixture
def site() -> Site:
    return make_site()


def belongs(site: Site, user: User) -> Membership:
    return user.memberships.select_related("kitchen", "user").get(kitchen=site.kitchen)


def ask(
    site: Site,
    user: User,
    actor: User | None = None,
    *,
    likes: frozenset[Station] = frozenset(),
    cannot: frozenset[Station] = frozenset(),
    most_minutes: int | None = None,
    comes_with: Membership | None = None,
    learning: bool = False,
) -> Wishes:
    """What is said of a person, by themselves unless somebody else is named."""
    return set_wishes(
        membership=belongs(site, user),
        likes=likes,
        cannot=cannot,
        most_minutes=most_minutes,
        comes_with=comes_with,
        learning=learning,
        actor=actor or user,
    )


def upload(
    site: Site, data: bytes = BUSY_AT_NOON, user: User | None = None, now: datetime = NOW
) -> BusyCalendar:
    user = user or site.member
    return take_file(membership=belongs(site, user), name="me.ics", data=data, actor=user, now=now)


def follow(site: Site, user: User | None = None, address: str = ADDRESS) -> BusyCalendar:
    user = user or site.member
    return follow_address(membership=belongs(site, user), address=address, actor=user, now=NOW)


def hours(times: tuple[tuple[datetime, datetime], ...], site: Site) -> list[str]:
    zone = site.kitchen.zone
    return [f"{starts.astimezone(zone):%H:%M}-{ends.astimezone(zone):%H:%M}" for starts, ends in times]


def test_what_is_said_takes_the_place_of_what_was_said(site: Site) -> None:
    ask(site, site.member, likes=frozenset({Station.FILL, Station.PREP}), most_minutes=240)
    ask(site, site.member, likes=frozenset({Station.FILL}), cannot=frozenset({Station.KETTLE}), learning=True)
    assert said_in(site.kitchen, [site.member.pk, site.other.pk]) == {
        site.member.pk: Said(likes=frozenset({"fill"}), cannot=frozenset({"kettle"}), learning=True)
    }
    first, second = AuditEvent.objects.filter(action="set_wishes").order_by("pk")
    assert (first.after["most_minutes"], first.after["stations"]) == (240, {"fill": "likes", "prep": "likes"})
    assert second.before["most_minutes"] == 240
    assert second.after["stations"] == {"fill": "likes", "kettle": "cannot"}


def test_a_lead_says_it_for_others_and_a_member_does_not(site: Site) -> None:
    assert ask(site, site.member, site.lead, most_minutes=60).most_minutes == 60
    for actor in (site.other, site.operator, make_site().lead):
        with pytest.raises(NotAllowed):
            ask(site, site.member, actor)
    assert AuditEvent.objects.filter(action="set_wishes").count() == 1


def test_whoever_left_says_nothing_more(site: Site) -> None:
    membership = belongs(site, site.member)
    end_membership(membership=membership, actor=site.member)
    with pytest.raises(NotAllowed):
        ask(site, site.member)
    with pytest.raises(NotAllowed):
        upload(site)


def test_what_cannot_be_is_refused_without_a_trace(site: Site) -> None:
    elsewhere = belongs(other := make_site(), other.member)
    gone = end_membership(membership=belongs(site, site.operator), actor=site.lead)
    with pytest.raises(BadWishes, match="Fill cannot be liked and impossible"):
        ask(site, site.member, likes=frozenset({Station.FILL}), cannot=frozenset({Station.FILL}))
    with pytest.raises(BadWishes, match="no station left"):
        ask(site, site.member, cannot=frozenset(Station))
    for minutes in (0, 29, 961):
        with pytest.raises(BadWishes, match="no limit for a day"):
            ask(site, site.member, most_minutes=minutes)
    with pytest.raises(BadWishes, match="Nobody comes with themselves"):
        ask(site, site.member, comes_with=belongs(site, site.member))
    for stranger in (elsewhere, gone):
        with pytest.raises(BadWishes, match="does not belong"):
            ask(site, site.member, comes_with=stranger)
    assert not Wishes.objects.exists()
    assert not StationWish.objects.exists()


def test_nobody_under_16_learns_to_run_a_canner(site: Site) -> None:
    Membership.objects.filter(user=site.member).update(under_16=True)
    with pytest.raises(BadWishes, match="under 16"):
        ask(site, site.member, learning=True)
    assert not Wishes.objects.exists()
    assert not ask(site, site.member).learning


def test_the_database_holds_the_limits_as_well(site: Site) -> None:
    membership = belongs(site, site.member)
    StationWish.objects.create(membership=membership, station="fill", feeling=Feeling.LIKES)
    for wrong in (
        StationWish(membership=membership, station="fill", feeling=Feeling.CANNOT),
        StationWish(membership=membership, station="roof", feeling=Feeling.CANNOT),
        StationWish(membership=membership, station="prep", feeling="perhaps"),
        Wishes(membership=membership, most_minutes=29),
        Wishes(membership=membership, most_minutes=961),
        Wishes(membership=membership, comes_with=membership),
        BusyCalendar(membership=membership, kind="file", name="a", address=ADDRESS),
        BusyCalendar(membership=membership, kind="address", name="a", next_read_at=NOW),
        BusyCalendar(membership=membership, kind="address", name="a", address=ADDRESS),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            wrong.save()


def test_busy_times_are_taken_out_of_hours(site: Site) -> None:
    upload(site)
    day = (site.at(8), site.at(18))
    assert hours(hours_without_busy(site.member, *day), site) == ["08:00-12:00", "14:00-18:00"]
    assert hours(busy_between(site.member, *day), site) == ["12:00-14:00"]
    assert hours(hours_without_busy(site.member, site.at(13), site.at(15)), site) == ["14:00-15:00"]
    assert hours_without_busy(site.member, site.at(12), site.at(14)) == ()
    assert hours(hours_without_busy(site.member, site.at(14), site.at(18)), site) == ["14:00-18:00"]
    assert hours(hours_without_busy(site.other, *day), site) == ["08:00-18:00"]


def test_busy_in_one_kitchen_is_busy_in_all_until_one_leaves_it(site: Site) -> None:
    other = make_site()
    Membership.objects.create(kitchen=other.kitchen, user=site.member)
    upload(other, user=site.member)
    assert hours(busy_between(site.member, site.at(8), site.at(18)), site) == ["12:00-14:00"]
    end_membership(membership=belongs(other, site.member), actor=site.member)
    assert busy_between(site.member, site.at(8), site.at(18)) == ()


def test_times_without_a_zone_are_the_kitchen_s(site: Site) -> None:
    Kitchen.objects.filter(pk=site.kitchen.pk).update(time_zone="Australia/Sydney")
    upload(site)
    span = BusySpan.objects.get()
    assert (span.starts_at, span.ends_at) == (
        datetime(2026, 9, 12, 2, tzinfo=UTC),
        datetime(2026, 9, 12, 4, tzinfo=UTC),
    )


def test_a_file_takes_the_place_of_the_one_before(site: Site) -> None:
    first = upload(site)
    days = [event(f"DTSTART;VALUE=DATE:202609{day}", uid=f"{day}") for day in (20, 22)]
    second = upload(site, calendar(*days).encode())
    assert first.pk == second.pk
    assert hours(busy_between(site.member, site.at(8), site.at(18)), site) == []
    assert BusySpan.objects.count() == 2
    assert (second.read_at, second.read_until) == (NOW, site.at(0, day=DAY + timedelta(days=119)))
    lines = AuditEvent.objects.filter(action="read_calendar").order_by("pk")
    assert [line.after["spans"] for line in lines] == [1, 2]
    assert all(line.actor == site.member for line in lines)


def test_only_the_next_four_months_are_known(site: Site) -> None:
    upload(site, calendar(event("DTSTART:20250101T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY")).encode())
    spans = list(BusySpan.objects.order_by("starts_at"))
    assert (len(spans), spans[0].starts_at) == (120, site.at(9, day=DAY - timedelta(days=1)))


def test_a_file_that_cannot_be_read_changes_nothing(site: Site) -> None:
    upload(site)
    with pytest.raises(BadCalendar):
        upload(site, b"no calendar")
    assert BusySpan.objects.count() == 1


def test_an_address_is_read_when_it_is_due(site: Site) -> None:
    calendar_row = follow(site)
    asked: list[str] = []

    def fetch(address: str) -> bytes:
        asked.append(address)
        return BUSY_AT_NOON

    assert read_due(now=NOW - timedelta(seconds=1), fetch=fetch) == 0
    assert read_due(now=NOW, fetch=fetch) == 1
    assert read_due(now=NOW + READ_EVERY - timedelta(seconds=1), fetch=fetch) == 0
    assert read_due(now=NOW + READ_EVERY, fetch=fetch) == 1
    assert asked == [ADDRESS, ADDRESS]
    assert hours(busy_between(site.member, site.at(8), site.at(18)), site) == ["12:00-14:00"]
    calendar_row.refresh_from_db()
    assert (calendar_row.read_at, calendar_row.failure) == (NOW + READ_EVERY, "")


def test_finding_the_same_again_leaves_no_line_in_the_record(site: Site) -> None:
    follow(site)
    for turn in range(3):
        read_due(now=NOW + turn * READ_EVERY, fetch=lambda address: BUSY_AT_NOON)
    assert AuditEvent.objects.filter(action="read_calendar").count() == 1
    moved = calendar(event("DTSTART:20260912T130000", "DTEND:20260912T140000")).encode()
    read_due(now=NOW + 3 * READ_EVERY, fetch=lambda address: moved)
    assert AuditEvent.objects.filter(action="read_calendar").count() == 2
    assert hours(busy_between(site.member, site.at(8), site.at(18)), site) == ["13:00-14:00"]


def test_what_was_found_stays_when_an_address_fails(site: Site) -> None:
    kept = follow(site)
    read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON)

    def broken(address: str) -> bytes:
        raise BadCalendar("dates.example answered with 404.", remedy="Look again.")

    assert read_due(now=NOW + READ_EVERY, fetch=broken) == 1
    kept.refresh_from_db()
    assert (kept.failure, kept.read_at) == ("dates.example answered with 404. Look again.", NOW)
    assert kept.next_read_at == NOW + READ_EVERY + TRY_AGAIN
    assert BusySpan.objects.count() == 1
    read_due(now=NOW + READ_EVERY + TRY_AGAIN, fetch=lambda address: BUSY_AT_NOON)
    kept.refresh_from_db()
    assert kept.failure == ""


def test_a_calendar_taken_back_while_it_is_read_stays_away(site: Site) -> None:
    kept = follow(site)

    def fetch(address: str) -> bytes:
        forget_calendar(calendar=kept, actor=site.member)
        return BUSY_AT_NOON

    read_due(now=NOW, fetch=fetch)
    assert not BusyCalendar.objects.exists()
    assert not BusySpan.objects.exists()


def test_two_sweeps_at_once_read_an_address_once(site: Site) -> None:
    follow(site)
    asked: list[str] = []

    def fetch(address: str) -> bytes:
        asked.append(address)
        assert read_due(now=NOW, fetch=fetch) == 0
        return BUSY_AT_NOON

    assert read_due(now=NOW, fetch=fetch) == 1
    assert len(asked) == 1


def test_a_sweep_reads_so_many_and_no_more(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kitchen.helping.actions.MOST_IN_A_SWEEP", 1)
    assert MOST_IN_A_SWEEP > 1
    for user in (site.member, site.other):
        follow(site, user)
    assert [read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON) for _ in range(3)] == [1, 1, 0]


def test_a_sweep_that_has_taken_long_begins_nothing_more(site: Site) -> None:
    """The same worker sends the reminders."""
    for user in (site.member, site.other):
        follow(site, user)
    ticks = iter((0.0, 0.0, SWEEP_SECONDS, SWEEP_SECONDS + 1, SWEEP_SECONDS + 1))
    assert read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON, clock=lambda: next(ticks)) == 1
    assert read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON, clock=lambda: next(ticks)) == 1


def test_the_sweep_is_beat_s_to_start() -> None:
    app.loader.import_default_modules()
    assert READ_TASK in app.tasks
    assert READ_TASK in {entry["task"] for entry in app.conf.beat_schedule.values()}


def test_nothing_is_read_for_whoever_left(site: Site) -> None:
    follow(site)
    end_membership(membership=belongs(site, site.member), actor=site.member)
    assert read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON) == 0


def test_an_address_stands_in_no_record(site: Site) -> None:
    """It is a secret, and the record is for ever."""
    kept = follow(site)
    read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON)
    forget_calendar(calendar=kept, actor=site.member)
    lines = AuditEvent.objects.filter(kitchen=site.kitchen)
    assert [line.action for line in lines.order_by("pk")][-3:] == [
        "follow_address",
        "read_calendar",
        "forget_calendar",
    ]
    assert not [line for line in lines if "secret-key" in f"{line.before}{line.after}"]


def test_another_address_takes_the_place_of_the_first(site: Site) -> None:
    follow(site)
    read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON)
    follow(site, address="webcal://other.example/")
    assert BusyCalendar.objects.get().address == "https://other.example/"
    assert not BusySpan.objects.exists()
    with pytest.raises(BadCalendar):
        follow(site, address="http://other.example/")
    assert BusyCalendar.objects.get().address == "https://other.example/"


def test_an_address_is_read_again_on_demand_but_not_at_once(site: Site) -> None:
    kept = follow(site)
    read_due(now=NOW, fetch=lambda address: BUSY_AT_NOON)
    kept.refresh_from_db()
    with pytest.raises(AlreadyDecided):
        read_again(calendar=kept, actor=site.member, now=NOW + timedelta(minutes=4))
    assert read_due(now=NOW + timedelta(minutes=4), fetch=lambda address: BUSY_AT_NOON) == 0
    read_again(calendar=kept, actor=site.member, now=NOW + timedelta(minutes=5))
    assert read_due(now=NOW + timedelta(minutes=5), fetch=lambda address: BUSY_AT_NOON) == 1
    with pytest.raises(AlreadyDecided):
        read_again(calendar=upload(site), actor=site.member, now=NOW + timedelta(days=1))


def test_another_member_touches_nobody_s_calendar(site: Site) -> None:
    kept = follow(site)
    for deed in (
        lambda: forget_calendar(calendar=kept, actor=site.other),
        lambda: read_again(calendar=kept, actor=site.other),
        lambda: follow_address(membership=belongs(site, site.member), address=ADDRESS, actor=site.other),
        lambda: take_file(membership=belongs(site, site.member), name="a", data=b"", actor=site.other),
    ):
        with pytest.raises(NotAllowed):
            deed()
    assert BusyCalendar.objects.get() == kept


def test_a_calendar_that_comes_later_marks_hours_and_changes_none(site: Site) -> None:
    day = make_open_day(site)
    before = list(Attendance.objects.order_by("pk").values())
    assert clashes_of(Attendance.objects.all()) == {}
    upload(site)
    clashes = clashes_of(Attendance.objects.all())
    mine = day.attendances.get(user=site.member)
    assert {key: [(one.starts_at, one.ends_at) for one in spans] for key, spans in clashes.items()} == {
        mine.pk: [(site.at(12), site.at(14))]
    }
    assert list(Attendance.objects.order_by("pk").values()) == before
    assert clashes_of([replace_hours(mine, site.at(14), site.at(18))]) == {}


def replace_hours(attendance: Attendance, starts_at: datetime, ends_at: datetime) -> Attendance:
    attendance.starts_at, attendance.ends_at = starts_at, ends_at
    return attendance
