"""A lead plans a day, awaits the plan, and publishes it."""

from __future__ import annotations

import re
import time
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from kitchen.members.signing_in import set_password
from kitchen.planning.models import DayState, HarvestDay, PlanJob
from kitchen.planning.running import run_job
from tests.factories.sites import Site, declare, make_open_day, make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def site() -> Site:
    made = make_site()
    set_password(user=made.lead, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """An open day with one batch."""
    opened = make_open_day(site)
    declare(site, opened)
    return opened


@every_way(without_scripts=True)
def test_a_day_is_planned_and_published(
    visit: Callable[[int | Way], Visitor], site: Site, day: HarvestDay, way: Way
) -> None:
    """The test stands in for the worker. The page finds the plan by itself, with scripts or without."""
    lead = visit(way)
    lead.sign_in(site.lead.email)
    page = lead.page
    lead.touch(page.get_by_role("main").get_by_role("link", name=re.compile(str(day.date.year))))
    lead.look("plan-asked")
    lead.press("Plan the day")
    expect(page.get_by_text("Waiting for the worker")).to_be_visible()
    lead.look("plan-awaited")
    job = PlanJob.objects.get()
    PlanJob.objects.filter(pk=job.pk).update(seconds_limit=1)
    assert run_job(job.pk, clock=time.monotonic)
    expect(page.get_by_role("heading", name="A plan, not published yet")).to_be_visible()
    expect(page.get_by_text("The judge checked every rule and found none broken.")).to_be_visible()
    lead.look("plan-found")
    lead.press("Publish this plan")
    expect(page.get_by_role("status")).to_contain_text("The plan is published.")
    lead.look("plan-published")
    day.refresh_from_db()
    assert day.state == DayState.PUBLISHED
