"""A rota by keyboard alone: a member gives hours, takes an open shift and offers a swap, another accepts.

Then both calendars and the lead's page of the day say the same.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from urllib.request import urlopen

import pytest
from django.core import mail
from django.utils import timezone
from icalendar import Calendar
from playwright.sync_api import expect
from pytest_django.live_server_helper import LiveServer

from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import FeedKind
from kitchen.members.models import User
from kitchen.members.signing_in import set_password
from kitchen.planning.models import HarvestDay
from kitchen.reminders.sweeping import sweep_due
from kitchen.rota.actions import give_back, withdraw_attendance
from kitchen.rota.models import Shift
from tests.factories.sites import Site, declare, make_open_day, make_site, publish
from tests.journeys.visitor import PASSWORD, Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def site() -> Site:
    """A kitchen where clocks are never changed."""
    made = make_site()
    made.kitchen.time_zone = "America/Phoenix"
    made.kitchen.save()
    for user in (made.lead, made.member, made.other):
        set_password(user=user, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """Tomorrow, planned and published without the member, whose beans they are."""
    tomorrow = timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=1)
    opened = make_open_day(site, day=tomorrow)
    withdraw_attendance(attendance=opened.attendances.get(user=site.member), actor=site.member)
    declare(site, opened, jars=14)
    return publish(site, opened)


@pytest.mark.parametrize("width", [390, 1280])
def test_a_rota_by_keyboard(
    visit: Callable[[int], Visitor], live_server: LiveServer, site: Site, day: HarvestDay, width: int
) -> None:
    feeds = {
        user: create_feed(user=user, kitchen=site.kitchen, kind=FeedKind.MEMBER).address
        for user in (site.member, site.other)
    }
    lead, member, other = visit(width), visit(width), visit(width)
    watch = open_a_watch(day)
    ask_for_helpers(lead, site, day)
    give_hours_and_take(member, site, day)
    mine = Shift.objects.get(user=site.member)
    assert uids(live_server, feeds[site.member]) == {str(mine.uuid): True}

    wanted = Shift.objects.filter(user=site.other, station="prep").order_by("starts_at")[0]
    offer_a_swap(member, wanted)
    accept(other, site, day, mine)

    for user, has, lost in ((site.other, mine, wanted), (site.member, wanted, mine)):
        found = uids(live_server, feeds[user])
        assert (found[str(has.uuid)], found[str(lost.uuid)]) == (True, False)
    read_the_day(lead, site, day, watch)
    sweep_due(now=timezone.now() + timedelta(minutes=1))
    titles = {(message.to[0], message.subject.split(":")[0]) for message in mail.outbox}
    assert (site.member.email, f"{site.other} accepted your offer") in titles
    assert (site.other.email, f"{site.member} offers you a shift") in titles
    assert (site.lead.email, f"Taken by {site.member}") in titles


def open_a_watch(day: HarvestDay) -> Shift:
    """The operator cannot come to one of the watches after all."""
    watch = day.shifts.filter(station="canner").order_by("starts_at")[0]
    assert watch.user is not None
    return give_back(shift=watch, actor=watch.user)


def ask_for_helpers(lead: Visitor, site: Site, day: HarvestDay) -> None:
    """The lead asks for two more at fill in the evening."""
    sign_in(lead, site.lead)
    go_to_day(lead, day)
    expect(lead.page.get_by_role("main")).to_contain_text("one trained person is missing")
    lead.look("day-open-watch")
    lead.press_by_keyboard("Everybody's rota")
    expect(lead.page.get_by_role("heading", name="Everybody's rota")).to_be_visible()
    lead.look("rota-everybody")
    lead.type_into("Station", "Fill")
    lead.type_into("From", "0530PM")
    lead.type_into("To", "0630PM")
    lead.tab_to("How many")
    lead.page.keyboard.press("ArrowUp")
    lead.press_by_keyboard("Ask for them")
    expect(lead.page.get_by_role("status")).to_contain_text("2 open shifts added")
    expect(lead.page.get_by_role("main")).to_contain_text("Fill, 17:30 to 18:30: two people are missing")
    lead.look("rota-everybody-asked")


def give_hours_and_take(member: Visitor, site: Site, day: HarvestDay) -> None:
    """The member says when she can help, reads why a watch is not for her, and takes an hour at fill."""
    sign_in(member, site.member)
    go_to_day(member, day)
    member.press_by_keyboard("My rota")
    expect(member.page.get_by_role("heading", name="My rota")).to_be_visible()
    main = member.page.get_by_role("main")
    expect(main).to_contain_text("is not trained to run a canner")
    member.look("rota-mine-empty")
    member.type_into("From", "0800AM")
    member.type_into("To", "0700PM")
    member.press_by_keyboard("Put me down")
    expect(member.page.get_by_role("status")).to_contain_text("you are there from 08:00 to 19:00")
    member.press_by_keyboard("Take Fill, 17:30 to 18:30")
    expect(member.page.get_by_role("status")).to_contain_text("It is yours now")
    expect(main.get_by_role("region", name="My shifts")).to_contain_text("17:30 to 18:30 Fill")
    member.look("rota-mine-taken")


def offer_a_swap(member: Visitor, wanted: Shift) -> None:
    """She would rather do what another does, and asks that person."""
    zone = wanted.harvest_day.kitchen.zone
    starts, ends = (f"{at.astimezone(zone):%H:%M}" for at in (wanted.starts_at, wanted.ends_at))
    member.press_by_keyboard("Swap or give back Fill, 17:30 to 18:30")
    expect(member.page.get_by_role("heading", name="Offer it to another")).to_be_visible()
    member.look("rota-shift")
    member.type_into("To", str(wanted.user))
    member.type_into("In return I would take", f"{wanted.user}: Prep, {starts}")
    member.press_by_keyboard("Offer it")
    expect(member.page.get_by_role("status")).to_contain_text("Offered")
    expect(member.page.get_by_role("main")).to_contain_text(
        f"offered to {wanted.user} for their {starts} to {ends}, Prep; yours until somebody accepts"
    )
    member.look("rota-mine-offered")


def accept(other: Visitor, site: Site, day: HarvestDay, offered: Shift) -> None:
    """The other reads the offer and accepts it."""
    sign_in(other, site.other)
    go_to_day(other, day)
    other.press_by_keyboard("My rota")
    expect(other.page.get_by_role("region", name="Others offer")).to_contain_text(
        f"from {site.member}, to you"
    )
    other.look("rota-mine-offers")
    other.press_by_keyboard("Accept Fill, 17:30 to 18:30")
    expect(other.page.get_by_role("status")).to_contain_text("the shift is yours")
    other.look("rota-mine-accepted")
    offered.refresh_from_db()
    assert offered.user == site.other


def read_the_day(lead: Visitor, site: Site, day: HarvestDay, watch: Shift) -> None:
    """The lead's page of the day says who is where now, and the run sheet that a watch is open."""
    lead.page.goto("/")
    go_to_day(lead, day)
    lead.press_by_keyboard("The rota by the hour")
    evening = lead.page.get_by_role("row", name=re.compile("^17:00"))
    expect(evening).to_contain_text(f"{site.other}, 1 open")
    expect(lead.page.get_by_role("main")).to_contain_text("Fill, 17:30 to 18:30: one person is missing")
    lead.look("day-rota")
    assert watch.load is not None
    lead.press_by_keyboard(watch.load.canner.name)
    expect(lead.page.get_by_role("main")).to_contain_text("OPEN, nobody yet")
    lead.look("run-sheet-open-watch")


def sign_in(visitor: Visitor, user: User) -> None:
    visitor.page.goto("/")
    visitor.type_into("E-mail address", user.email)
    visitor.type_into("Password", PASSWORD)
    visitor.press_by_keyboard("Sign in")
    expect(visitor.page.get_by_role("heading", name="Harvest days")).to_be_visible()


def go_to_day(visitor: Visitor, day: HarvestDay) -> None:
    visitor.press_by_keyboard(f"{day.date:%A} {day.date.day} {day.date:%B %Y}")
    expect(visitor.page.get_by_role("heading", name=re.compile("^Harvest day"))).to_be_visible()


def uids(live_server: LiveServer, address: str) -> dict[str, bool]:
    """The shifts in a feed, as another program reads it, by the id within their uid: True for one that stands."""
    path = address.partition("/feeds/")[2]
    with urlopen(f"{live_server.url}/feeds/{path}", timeout=10) as answer:  # noqa: S310  (our own server)
        calendar = Calendar.from_ical(answer.read())
    shifts = [event for event in calendar.events if "shift" in str(event["UID"])]
    return {
        str(event["UID"]).partition("@")[0].removeprefix("shift-"): event.get("STATUS") != "CANCELLED"
        for event in shifts
    }
