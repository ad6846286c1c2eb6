"""Booking canner time, changing it and giving it back, at both widths, by keyboard, and without a script."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.batches.models import Slot, SlotState
from kitchen.members.actions import change_policy, set_password
from tests.factories.sites import Site, make_site
from tests.journeys.visitor import PASSWORD, Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def site() -> Site:
    site = make_site()
    set_password(user=site.member, password=PASSWORD, actor=None)
    set_password(user=site.operator, password=PASSWORD, actor=None)
    change_policy(kitchen=site.kitchen, changes={"jar_fee": "50 cents a jar, into the tin"}, actor=site.lead)
    return site


def tomorrow(site: Site) -> date:
    """A day on which every hour is still to come."""
    return (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()


@pytest.mark.parametrize("width", [390, 1280])
def test_book_change_and_cancel(visit: Callable[[int], Visitor], site: Site, width: int) -> None:
    visitor = visit(width)
    page = visitor.page
    visitor.sign_in(site.member.email)
    page.get_by_role("link", name="Book canner time").click()
    visitor.look("booking-empty")

    page.get_by_label("What").select_option("snap_beans:raw")
    page.get_by_label("How many jars").fill("14")
    page.get_by_label("of which size").select_option("quart")
    page.get_by_label("From which day on").fill(tomorrow(site).isoformat())
    visitor.press("Show the times")
    expect(page.get_by_role("heading", name="Times for 14 jars")).to_be_visible()
    expect(page.get_by_text("Fee: 50 cents a jar")).to_be_visible()
    visitor.look("booking-times")

    visitor.press("Hold the first that fits")
    expect(page.get_by_text("It is booked when you press")).to_be_visible()
    visitor.look("booking-held")
    page.get_by_label("Who watches the canner").select_option(label=str(site.operator))
    visitor.press("Book it")
    expect(page.get_by_role("status")).to_contain_text("Booked: Pressure, weighted gauge")
    visitor.look("booking-booked")
    first = Slot.objects.get().canner_time.starts_at

    page.get_by_role("link", name="Change").click()
    expect(page.get_by_role("heading", name="Another time instead of")).to_be_visible()
    page.get_by_label("What").select_option("snap_beans:raw")
    page.get_by_label("How many jars").fill("7")
    page.get_by_label("of which size").select_option("quart")
    page.get_by_label("From which day on").fill((tomorrow(site) + timedelta(days=1)).isoformat())
    visitor.press("Show the times")
    page.get_by_role("button", name="Hold").nth(1).click()
    expect(page.get_by_text("It takes the place of")).to_be_visible()
    page.get_by_label("Who watches the canner").select_option(label=str(site.operator))
    visitor.press("Book it")
    expect(page.get_by_role("status")).to_contain_text("Booked:")
    slot = Slot.objects.get()
    assert slot.canner_time.starts_at > first

    page.get_by_role("button", name="Cancel").click()
    expect(page.get_by_role("status")).to_contain_text("The canner is free for others.")
    expect(page.get_by_text("Nothing yet.")).to_be_visible()
    slot.refresh_from_db()
    assert slot.state == SlotState.CANCELLED


def test_somebody_else_was_quicker(visit: Callable[[int], Visitor], site: Site) -> None:
    slow, quick = visit(390), visit(390)
    for visitor, who in ((slow, site.member), (quick, site.operator)):
        visitor.sign_in(who.email)
        visitor.page.get_by_role("link", name="Book canner time").click()
        visitor.page.get_by_label("What").select_option("snap_beans:raw")
        visitor.page.get_by_label("How many jars").fill("7")
        visitor.page.get_by_label("of which size").select_option("quart")
        visitor.page.get_by_label("From which day on").fill(tomorrow(site).isoformat())
        visitor.press("Show the times")
    quick.page.get_by_role("button", name="Hold").nth(1).click()
    quick.press("Book it")
    expect(quick.page.get_by_role("status")).to_contain_text("Booked:")
    # The browser notes the refusal in its console; that is no complaint about the page.
    slow.page.get_by_role("button", name="Hold").nth(1).click()
    expect(slow.page.get_by_role("alert")).to_contain_text("is taken")
    expect(slow.page.get_by_role("heading", name="Times for 7 jars")).to_be_visible()
    slow.complaints.clear()
    slow.look("booking-taken")


def test_booking_by_keyboard_alone(visit: Callable[[int], Visitor], site: Site) -> None:
    visitor = visit(1280)
    page = visitor.page
    visitor.sign_in(site.operator.email)
    visitor.press_by_keyboard("Book canner time")
    page.wait_for_url("**/booking/")
    page.get_by_label("What").focus()
    page.keyboard.type("Beans")
    visitor.type_into("How many jars", "7")
    visitor.press_by_keyboard("Hold the first that fits")
    page.wait_for_url("**/held/**")
    visitor.press_by_keyboard("Book it")
    expect(page.get_by_role("status")).to_contain_text("Booked:")


def test_book_and_cancel_without_a_script(browser: Browser, live_server: LiveServer, site: Site) -> None:
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/")
        page.get_by_label("E-mail address").fill(site.operator.email)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("link", name="Book canner time").click()
        page.get_by_label("What").select_option("snap_beans:raw")
        page.get_by_label("How many jars").fill("7")
        page.get_by_role("button", name="Hold the first that fits").click()
        page.get_by_role("button", name="Book it").click()
        expect(page.get_by_role("status")).to_contain_text("Booked:")
        page.get_by_role("button", name="Cancel").click()
        expect(page.get_by_role("status")).to_contain_text("Cancelled.")
    assert Slot.objects.get().state == SlotState.CANCELLED
