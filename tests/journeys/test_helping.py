"""The page of when and where a member can help: by keyboard, with a calendar, and without a script."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, FilePayload, Page, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.helping.actions import read_due
from kitchen.helping.models import BusyCalendar
from kitchen.helping.queries import Said, said_in
from kitchen.members.signing_in import set_password
from kitchen.members.trainings import record_food_training
from kitchen.planning.models import HarvestDay
from tests.factories.sites import Site, make_open_day, make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way
from tests.kitchen.helping.calendars import calendar, event

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def site() -> Site:
    made = make_site()
    for user in (made.lead, made.member):
        set_password(user=user, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """A harvest day in a week, with nobody put down yet."""
    coming = timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=7)
    return make_open_day(site, day=coming, helpers=False)


def my_calendar(day: HarvestDay, lines: int = 1) -> FilePayload:
    """Busy from twelve to two on the harvest day, and on some days after it."""
    noon: datetime = day.opens_at.astimezone(day.kitchen.zone).replace(hour=12)
    entry = event(f"DTSTART:{noon:%Y%m%dT%H%M%S}", "DURATION:PT2H", f"RRULE:FREQ=DAILY;COUNT={lines}")
    return {"name": "dates.ics", "mimeType": "text/calendar", "buffer": calendar(entry).encode()}


@pytest.mark.parametrize("width", [390, 1280])
def test_wishes_calendar_and_hours(
    browser: Browser, live_server: LiveServer, site: Site, day: HarvestDay, width: int
) -> None:
    visitor = Visitor(browser, live_server.url, way=Way(width=width))
    page = visitor.page
    visitor.sign_in(site.member.email)
    page.get_by_role("link", name="When and where I can help").click()
    expect(page.get_by_role("heading", name="When and where I can help")).to_be_visible()
    visitor.look("helping-empty")

    page.get_by_label("Fill", exact=True).select_option("gladly")
    page.get_by_label("Kettle", exact=True).select_option("not at all")
    page.get_by_label("Most hours in one day").fill("4")
    page.get_by_label("I come and go with").select_option(str(site.other))
    page.get_by_label("I am learning to run a canner").check()
    visitor.press("Save the wishes")
    expect(page.get_by_role("status")).to_contain_text("Saved.")

    page.get_by_label("Calendar file (.ics)").set_input_files(
        {"name": "wrong.ics", "mimeType": "text/calendar", "buffer": b"no calendar"}
    )
    # The browser notes the refusal in its console; that is no complaint about the page.
    visitor.press("Read the file")
    expect(page.get_by_role("alert")).to_contain_text("This is not a calendar")
    visitor.complaints.clear()
    visitor.look("helping-refused")
    page.get_by_label("Calendar file (.ics)").set_input_files(my_calendar(day, 3))
    visitor.press("Read the file")
    expect(page.get_by_role("status")).to_contain_text("Read: 3 busy times in dates.ics.")
    page.get_by_label("Address of the calendar").fill("webcal://dates.example/secret-key")
    visitor.press("Follow the address")
    expect(page.get_by_role("status")).to_contain_text("dates.example is read within a few minutes")
    visitor.look("helping")

    page.goto(f"/kitchens/{site.kitchen.slug}/days/{day.uuid}/")
    visitor.look("helping-day")
    page.get_by_label("From").fill("09:00")
    page.get_by_label("To", exact=True).fill("17:00")
    visitor.press("Put me down")
    expect(page.get_by_role("status")).to_contain_text("from 09:00 to 12:00 and 14:00 to 17:00")
    visitor.close()


def test_clashes_and_others_wishes_for_a_lead(
    browser: Browser, live_server: LiveServer, site: Site, day: HarvestDay
) -> None:
    record_food_training(
        membership=site.member.memberships.get(),
        trained_on=day.date - timedelta(days=30),
        expires_on=day.date + timedelta(days=300),
        trained_by="County office",
        actor=site.lead,
    )
    day.attendances.create(user=site.member, starts_at=day.opens_at, ends_at=day.closes_at)
    member = Visitor(browser, live_server.url, way=Way(width=390))
    member.sign_in(site.member.email)
    member.page.goto(f"/kitchens/{site.kitchen.slug}/helping/")
    member.page.get_by_label("Calendar file (.ics)").set_input_files(my_calendar(day))
    member.press("Read the file")
    expect(member.page.get_by_role("heading", name="Hours that a calendar now calls busy")).to_be_visible()
    member.look("helping-clash")
    member.page.get_by_role("link", name=f"{day.date:%A}").click()
    expect(member.page.get_by_text("the calendar now says busy 12:00 to 14:00")).to_be_visible()
    member.close()

    lead = Visitor(browser, live_server.url, way=Way(width=390))
    lead.sign_in(site.lead.email)
    lead.page.goto(f"/kitchens/{site.kitchen.slug}/days/{day.uuid}/")
    expect(lead.page.get_by_text("the calendar now says busy 12:00 to 14:00")).to_be_visible()
    lead.look("helping-day-lead")
    lead.page.goto(f"/kitchens/{site.kitchen.slug}/helping/")
    lead.page.get_by_role("link", name=str(site.member), exact=True).click()
    expect(lead.page.get_by_text("busy 12:00 to 14:00")).to_be_visible()
    expect(lead.page.get_by_text("Calendar file")).to_have_count(0)
    lead.look("helping-of-member")
    lead.page.get_by_role("link", name=f"{day.date:%A}").click()
    lead.page.get_by_role("button", name=f"Take back {site.member}").click()
    expect(lead.page.get_by_role("status")).to_contain_text("Those hours are taken back.")
    lead.close()


def tab_to(page: Page, label: str) -> None:
    """Go on by the Tab key until the field or button of this name has the focus."""
    for _ in range(80):
        page.keyboard.press("Tab")
        name = page.evaluate(
            "() => { const e = document.activeElement;"
            " return (e.labels?.[0]?.textContent ?? e.getAttribute('aria-label') ?? e.textContent).trim(); }"
        )
        if name == label:
            return
    raise AssertionError(f"{label!r} is not reached by Tab")


def test_wishes_by_keyboard_alone(browser: Browser, live_server: LiveServer, site: Site) -> None:
    visitor = Visitor(browser, live_server.url, way=Way(width=1280))
    page = visitor.page
    visitor.sign_in(site.member.email)
    tab_to(page, "When and where I can help")
    page.keyboard.press("Enter")
    page.wait_for_url("**/helping/")
    tab_to(page, "Prep")
    page.keyboard.press("ArrowDown")
    tab_to(page, "Most hours in one day")
    page.keyboard.type("3.5")
    tab_to(page, "I am learning to run a canner, beside a trained person")
    page.keyboard.press("Space")
    tab_to(page, "Save the wishes")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Saved.")
    assert said_in(site.kitchen, [site.member.pk]) == {
        site.member.pk: Said(likes=frozenset({"prep"}), most_minutes=210, learning=True)
    }
    visitor.close()


def test_a_calendar_is_given_and_forgotten_without_a_script(
    browser: Browser, live_server: LiveServer, site: Site, day: HarvestDay
) -> None:
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/")
        page.get_by_label("E-mail address").fill(site.member.email)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("link", name="When and where I can help").click()
        page.get_by_label("Calendar file (.ics)").set_input_files(my_calendar(day))
        page.get_by_role("button", name="Read the file").click()
        expect(page.get_by_role("status")).to_contain_text("Read: 1 busy time in dates.ics.")
        expect(page.get_by_text("12:00 to 14:00")).to_be_visible()
        page.get_by_role("button", name="Forget dates.ics").click()
        expect(page.get_by_role("status")).to_contain_text("are forgotten")
        page.get_by_label("Address of the calendar").fill("https://dates.example/me.ics")
        page.get_by_role("button", name="Follow the address").click()
        assert read_due(fetch=lambda address: my_calendar(day)["buffer"]) == 1
        page.reload()
        expect(page.get_by_text("12:00 to 14:00")).to_be_visible()
    assert BusyCalendar.objects.get().name == "dates.example"
