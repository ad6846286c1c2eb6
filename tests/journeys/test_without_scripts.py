"""The pages in a browser that runs no script at all: an old tablet, or a person who switched it off."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.batches.models import Batch
from kitchen.members.models import User
from kitchen.members.signing_in import set_password
from kitchen.planning.models import HarvestDay
from kitchen.rota.models import Shift
from tests.factories.sites import Site, make_open_day, make_site
from tests.journeys.visitor import PASSWORD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def site() -> Site:
    made = make_site()
    for user in (made.lead, made.member):
        set_password(user=user, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site)


@pytest.fixture
def page(browser: Browser, live_server: LiveServer) -> Iterator[Page]:
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        yield context.new_page()


def sign_in(page: Page, user: User) -> None:
    page.goto("/")
    page.get_by_label("E-mail address").fill(user.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


def test_food_is_brought_without_a_script(page: Page, site: Site, day: HarvestDay) -> None:
    sign_in(page, site.member)
    page.get_by_role("link", name="Bring food").click()
    page.get_by_label("Food").fill("Applesauce")
    page.get_by_label("How much").fill("2")
    page.get_by_label("Jars").select_option("quart")
    page.get_by_role("button", name="How many jars does that make?").click()
    # USDA AIB 539, Guide 2: a bushel of apples yields 14 to 19 quarts of applesauce.
    expect(page.get_by_role("heading", name="That makes 28 to 38 jars")).to_be_visible()
    assert not Batch.objects.exists()
    page.get_by_role("button", name="Yes, note it").click()
    expect(page.get_by_role("status")).to_contain_text("Noted: 38 jars")
    assert (Batch.objects.get().jars, Batch.objects.get().harvest_day) == (38, day)


def test_an_open_shift_is_taken_and_given_back_without_a_script(page: Page, site: Site) -> None:
    day = make_open_day(site, day=timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=1))
    starts_at = day.opens_at + timedelta(hours=2)
    shift = Shift.objects.create(
        harvest_day=day,
        station="fill",
        asked_for=True,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(hours=1),
    )
    sign_in(page, site.member)
    page.get_by_role("link", name="My rota").click()
    page.get_by_role("button", name="Take Fill, 09:00 to 10:00").click()
    expect(page.get_by_role("status")).to_contain_text("It is yours now")
    page.get_by_role("link", name="Swap or give back Fill").click()
    page.get_by_role("button", name="Give this shift back").click()
    expect(page.get_by_role("status")).to_contain_text("it is an open shift now")
    shift.refresh_from_db()
    assert (shift.user, shift.sequence) == (None, 2)
