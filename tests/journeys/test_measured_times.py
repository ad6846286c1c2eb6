"""The page of measured times in a browser: empty, with a season's records, switched off, and without a script."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.batches.models import Batch
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.members.signing_in import set_password
from tests.factories.measured import measure_canner, measure_work
from tests.factories.sites import Site, declare, make_open_day, make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def site() -> Site:
    made = make_site()
    set_password(user=made.lead, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def batch(site: Site) -> Batch:
    """Seven quarts of beans that came in yesterday."""
    yesterday = timezone.now().astimezone(site.kitchen.zone).date() - timedelta(days=1)
    return declare(site, make_open_day(site, day=yesterday))


def a_season(site: Site, batch: Batch) -> None:
    """Twenty loads of a slow heat-up, of a quick cool-down with one forced, and some timed prep."""
    last = batch.arrives_at.date()
    slow = [1.3 + 0.02 * (number % 5) for number in range(20)]
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, slow, usual_minutes=12, last=last)
    quick = [0.45, *(0.7 + 0.01 * (number % 4) for number in range(19))]
    measure_canner(site, site.weighted, TimedKind.COOL_DOWN, quick, least_minutes=20, last=last)
    measure_work(site, batch, TimedKind.PREP, [1.2, 1.1, 1.3], family=4)


@pytest.mark.parametrize("width", [390, 1280])
def test_measured_times(
    browser: Browser, live_server: LiveServer, site: Site, batch: Batch, width: int
) -> None:
    visitor = Visitor(browser, live_server.url, way=Way(width=width))
    page = visitor.page
    visitor.sign_in(site.lead.email)
    page.get_by_role("link", name="Measured times").click()
    expect(page.get_by_text("Nothing is measured yet")).to_be_visible()
    visitor.look("measured-empty")

    a_season(site, batch)
    page.get_by_label("Batch", exact=True).select_option(str(batch.uuid))
    page.get_by_label("Work", exact=True).select_option("prep")
    page.get_by_label("Jars", exact=True).fill("7")
    page.get_by_label("People").fill("2")
    page.get_by_label("Minutes it took").fill("40")
    visitor.press("Note it")
    expect(page.get_by_role("status")).to_contain_text("Noted: 40 minutes; usual are 35.")
    expect(page.get_by_text("would be 23 min, held at the kitchen's own setting")).to_be_visible()
    expect(page.get_by_text("0.71 times the estimate, spread 6 %, 1 set aside")).to_be_visible()
    visitor.look("measured")

    page.get_by_label("Plan by these records").uncheck()
    visitor.press("Save")
    expect(page.get_by_text("Plans do not use these records now.")).to_be_visible()
    visitor.look("measured-off")
    visitor.close()


def test_a_time_is_taken_back_without_a_script(
    browser: Browser, live_server: LiveServer, site: Site, batch: Batch
) -> None:
    measure_work(site, batch, TimedKind.PREP, [1.5], family=4)
    MeasuredTime.objects.update(on=batch.arrives_at.date())
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/")
        page.get_by_label("E-mail address").fill(site.lead.email)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("link", name="Measured times").click()
        page.get_by_role("button", name="Take back prep").click()
        expect(page.get_by_role("status")).to_contain_text("taken back")
    assert MeasuredTime.objects.get().withdrawn_at is not None
