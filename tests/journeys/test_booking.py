"""Booking canner time, changing it and giving it back, in every way."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.batches.models import Slot, SlotState
from kitchen.members.actions import change_policy
from kitchen.members.signing_in import set_password
from tests.factories.sites import Site, make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

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


@every_way(without_scripts=True)
def test_book_change_and_cancel(visit: Callable[[int | Way], Visitor], site: Site, way: Way) -> None:
    visitor = visit(way)
    page = visitor.page
    visitor.sign_in(site.operator.email)
    visitor.look("home-booking")
    visitor.presses = 0
    visitor.choose("What", "Beans, snap and Italian, pieces, green and wax, raw pack")
    visitor.type("How many jars", "7")
    visitor.choose("of which size", "Quart")
    visitor.press("Hold the first that fits")
    expect(page.get_by_text("It is booked when you press")).to_be_visible()
    visitor.look("booking-held")
    visitor.press("Book it")
    assert visitor.presses == 2, "three fields and two presses from the start page"
    expect(page.get_by_role("status")).to_contain_text("Booked: Pressure, weighted gauge")
    visitor.look("booking-booked")
    first = Slot.objects.get().canner_time.starts_at

    visitor.touch(page.get_by_role("link", name="Change"))
    expect(page.get_by_role("heading", name="Another time instead of")).to_be_visible()
    visitor.choose("What", "Beans, snap and Italian, pieces, green and wax, raw pack")
    visitor.type("How many jars", "7")
    visitor.choose("of which size", "Quart")
    visitor.type("From which day on", (tomorrow(site) + timedelta(days=1)).isoformat())
    visitor.press("Show the times")
    expect(page.get_by_role("heading", name="Times for 7 jars")).to_be_visible()
    expect(page.get_by_text("Fee: 50 cents a jar")).to_be_visible()
    visitor.look("booking-times")
    visitor.touch(page.get_by_role("button", name="Hold").nth(1))
    expect(page.get_by_text("It takes the place of")).to_be_visible()
    visitor.press("Book it")
    expect(page.get_by_role("status")).to_contain_text("Booked:")
    slot = Slot.objects.get()
    assert slot.canner_time.starts_at > first

    visitor.touch(page.get_by_role("button", name="Cancel"))
    expect(page.get_by_role("status")).to_contain_text("The canner is free for others.")
    expect(page.get_by_text("Nothing yet.")).to_be_visible()
    slot.refresh_from_db()
    assert slot.state == SlotState.CANCELLED


def test_a_member_without_training_names_who_watches(
    visit: Callable[[int | Way], Visitor], site: Site
) -> None:
    visitor = visit(390)
    visitor.sign_in(site.member.email)
    visitor.presses = 0
    visitor.choose("What", "Beans, snap and Italian, pieces, green and wax, raw pack")
    visitor.type("How many jars", "7")
    visitor.press("Hold the first that fits")
    visitor.look("booking-held-watched")
    watcher = "Who watches the canner (rule S9: a trained person, from heat on to heat off)"
    visitor.choose(watcher, str(site.operator))
    visitor.press("Book it")
    assert visitor.presses == 2, "three fields and two presses from the start page; a pint is the usual jar"
    expect(visitor.page.get_by_role("status")).to_contain_text("Booked:")


def test_somebody_else_was_quicker(visit: Callable[[int | Way], Visitor], site: Site) -> None:
    slow, quick = visit(390), visit(390)
    for visitor, who in ((slow, site.member), (quick, site.operator)):
        visitor.sign_in(who.email)
        visitor.page.get_by_role("link", name="All free times").click()
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
