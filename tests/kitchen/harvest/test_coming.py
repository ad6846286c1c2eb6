"""Hours that a member gives go round the busy times of their calendar, and later busy times only mark them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from kitchen.audit.models import AuditEvent
from kitchen.errors import BadTime, NotAllowed
from kitchen.harvest.actions import come_to_help
from kitchen.helping.actions import take_file
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay
from kitchen.rota.models import Attendance
from tests.factories.sites import DAY, Site, make_open_day, make_site
from tests.factories.walks import rows, signed_in
from tests.kitchen.helping.calendars import calendar, event

pytestmark = pytest.mark.django_db

MARK = "the calendar now says busy 12:00 to 14:00; the hours still count"


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site, helpers=False)


def busy_at_noon(site: Site) -> None:
    """The member's calendar, from twelve to two on the harvest day."""
    take_file(
        membership=site.member.memberships.get(kitchen=site.kitchen),
        name="me.ics",
        data=calendar(event("DTSTART:20260912T120000", "DTEND:20260912T140000")).encode(),
        actor=site.member,
        now=site.at(6),
    )


def send(site: Site, day: HarvestDay, starts: str, ends: str, **more: str) -> str:
    """What the member is told after the form."""
    address = reverse("harvest:help-out", args=[site.kitchen.slug, day.uuid])
    answer = signed_in(site.member).post(address, {"starts": starts, "ends": ends, **more}, follow=True)
    return " ".join(answer.content.decode().split())


def page(site: Site, day: HarvestDay, user: User) -> str:
    answer = signed_in(user).get(reverse("harvest:day", args=[site.kitchen.slug, day.uuid]))
    return " ".join(answer.content.decode().split())


def given(site: Site) -> list[tuple[str, str]]:
    zone = site.kitchen.zone
    return [
        (f"{one.starts_at.astimezone(zone):%H:%M}", f"{one.ends_at.astimezone(zone):%H:%M}")
        for one in Attendance.objects.order_by("starts_at")
    ]


def test_busy_times_are_taken_out_and_said(site: Site, day: HarvestDay) -> None:
    busy_at_noon(site)
    told = send(site, day, "08:00", "18:00")
    assert "you are there from 08:00 to 12:00 and 14:00 to 18:00." in told
    assert "Taken out, because your calendar says busy: 12:00 to 14:00." in told
    assert given(site) == [("08:00", "12:00"), ("14:00", "18:00")]
    assert AuditEvent.objects.filter(action="attend").count() == 2
    assert MARK not in told


def test_whoever_comes_all_the_same_is_there_the_whole_time(site: Site, day: HarvestDay) -> None:
    busy_at_noon(site)
    told = send(site, day, "08:00", "18:00", despite_busy="on")
    assert "you are there from 08:00 to 18:00." in told
    assert "Taken out" not in told
    assert given(site) == [("08:00", "18:00")]


def test_with_no_hour_left_nothing_is_noted(site: Site, day: HarvestDay) -> None:
    busy_at_noon(site)
    before = rows()
    assert "busy all that time" in send(site, day, "12:00", "14:00")
    assert {name: kept for name, kept in rows().items() if name != "members.User"} == {
        name: kept for name, kept in before.items() if name != "members.User"
    }, "but for when they signed in"


def test_hours_outside_the_day_are_refused_whole(site: Site, day: HarvestDay) -> None:
    """Even when what is left of them would lie inside."""
    busy_at_noon(site)
    with pytest.raises(BadTime, match="outside the day"):
        come_to_help(
            harvest_day=day, user=site.member, starts_at=site.at(6), ends_at=site.at(18), actor=site.member
        )
    assert given(site) == []


def test_the_form_says_what_will_be_taken_out(site: Site, day: HarvestDay) -> None:
    assert "I come all the same" not in page(site, day, site.member)
    busy_at_noon(site)
    told = page(site, day, site.member)
    assert "Your calendar says busy 12:00 to 14:00: that is taken out." in told
    assert "I come all the same" in told
    assert "12:00 to 14:00" not in page(site, day, site.other)


def test_a_calendar_that_comes_later_marks_the_hours_for_member_and_lead(site: Site, day: HarvestDay) -> None:
    send(site, day, "08:00", "13:30")
    busy_at_noon(site)
    mark = MARK.replace("14:00", "13:30")
    assert mark in page(site, day, site.member)
    assert mark in page(site, day, site.lead)
    assert "calendar now says" not in page(site, day, site.other)
    assert "calendar now says" not in page(site, day, site.operator)
    assert given(site) == [("08:00", "13:30")]


def test_a_lead_puts_a_member_down_around_their_busy_times(site: Site, day: HarvestDay) -> None:
    busy_at_noon(site)
    with pytest.raises(NotAllowed):
        come_to_help(
            harvest_day=day,
            user=site.member,
            starts_at=site.at(10),
            ends_at=site.at(13),
            actor=site.other,
        )
    coming = come_to_help(
        harvest_day=day, user=site.member, starts_at=site.at(10), ends_at=site.at(13), actor=site.lead
    )
    assert (coming.hours, coming.taken_out) == (
        ((site.at(10), site.at(12)),),
        ((site.at(12), site.at(13)),),
    )


def take_back(site: Site, hours: Attendance, user: User) -> str:
    address = reverse("harvest:take-back", args=[site.kitchen.slug, hours.harvest_day.uuid, hours.pk])
    return signed_in(user).post(address, follow=True).content.decode()


def test_hours_are_taken_back_by_their_own_person_or_a_lead(site: Site, day: HarvestDay) -> None:
    send(site, day, "08:00", "12:00")
    mine = Attendance.objects.get()
    assert "may not act for another member" in take_back(site, mine, site.other)
    assert Attendance.objects.get() == mine
    assert "Those hours are taken back." in take_back(site, mine, site.member)
    assert not Attendance.objects.exists()
    send(site, day, "09:00", "12:00")
    assert "Those hours are taken back." in take_back(site, Attendance.objects.get(), site.lead)
    assert AuditEvent.objects.filter(action="withdraw_attendance").count() == 2


def test_only_hours_that_one_may_take_back_have_a_button(site: Site, day: HarvestDay) -> None:
    send(site, day, "08:00", "12:00")
    button = f'aria-label="Take back {site.member}, 08:00 to 12:00"'
    assert [button in page(site, day, user) for user in (site.member, site.lead, site.other)] == [
        True,
        True,
        False,
    ]


def test_hours_of_another_day_are_not_found(site: Site, day: HarvestDay) -> None:
    send(site, day, "08:00", "12:00")
    other = make_open_day(site, day=DAY + timedelta(days=1), helpers=False)
    address = reverse("harvest:take-back", args=[site.kitchen.slug, other.uuid, Attendance.objects.get().pk])
    assert signed_in(site.lead).post(address).status_code == 404
