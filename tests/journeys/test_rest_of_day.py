"""A canner fails in the middle of a process: the lead says so, reads what it changes, and publishes the rest anew."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.floor.actions import record_event
from kitchen.floor.models import EventKind
from kitchen.members.signing_in import set_password
from kitchen.planning.actions import publish_plan
from kitchen.planning.models import HarvestDay, JobState, Load, PlanJob
from kitchen.planning.running import run_job
from tests.factories.sites import Site, declare, make_open_day, make_site, plan
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# So long after opening the first load of beans is at pressure.
UNDER_WAY_FOR = timedelta(minutes=75)


@pytest.fixture
def site() -> Site:
    """A kitchen where clocks are never changed."""
    made = make_site()
    made.kitchen.time_zone = "America/Phoenix"
    made.kitchen.save()
    set_password(user=made.lead, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """A published day that opened a while ago, its first load of beans at pressure."""
    now = timezone.now().replace(second=0, microsecond=0)
    opens = now - UNDER_WAY_FOR
    opened = make_open_day(site, day=opens.astimezone(site.kitchen.zone).date())
    HarvestDay.objects.filter(pk=opened.pk).update(opens_at=opens, closes_at=opens + timedelta(hours=12))
    opened.refresh_from_db()
    opened.attendances.update(starts_at=opened.opens_at, ends_at=opened.closes_at)
    declare(site, opened, jars=14)
    declare(site, opened, food="applesauce", pack="hot", jar="pint", jars=14, member=site.other)
    published = publish_plan(job=plan(site, opened), actor=site.lead, now=opens - timedelta(hours=9))
    record_as_planned(site, published, now)
    return published


def record_as_planned(site: Site, day: HarvestDay, now: datetime) -> None:
    """Everything that was to happen at the canners by now has happened, to the minute."""
    under_pressure = {
        "loading": EventKind.LOADED,
        "heat_up": EventKind.STEADY_STEAM,
        "vent": EventKind.WEIGHT_ON,
        "pressure_up": EventKind.AT_PRESSURE,
    }
    in_the_open = {"loading": EventKind.LOADED, "heat_up": EventKind.FULL_BOIL, "process": EventKind.HEAT_OFF}
    for load in day.loads.select_related("canner"):
        events = under_pressure if load.canner.is_pressure else in_the_open
        for phase in load.phases.filter(kind__in=events, ends_at__lte=now):
            record_event(load=load, kind=events[phase.kind], at=phase.ends_at, actor=site.operator, now=now)


@every_way(without_scripts=True)
def test_a_canner_fails(visit: Callable[[int | Way], Visitor], site: Site, day: HarvestDay, way: Way) -> None:
    beans = Load.objects.get(portions__batch__food_id="snap_beans", number=1)
    assert beans.run_events.filter(kind=EventKind.AT_PRESSURE).exists()
    lead = visit(way)
    lead.sign_in(site.lead.email)
    page = lead.page
    lead.touch(page.get_by_role("main").get_by_role("link", name=re.compile(str(day.date.year))))
    lead.follow("Plan the rest again")
    lead.look("rest-asked")

    lead.choose("A canner has failed", site.weighted.name)
    lead.type("What is wrong with it", "the gasket blew")
    lead.press("Plan the rest again")
    page.wait_for_url("**/plans/*/")
    job = PlanJob.objects.get(harvest_day=day, follows__isnull=False)
    assert run_job(job.pk, clock=time.monotonic)
    job.refresh_from_db()
    assert job.state == JobState.FINISHED, job.failure

    expect(page.get_by_role("heading", name="What this plan changes")).to_be_visible()
    expect(page.get_by_role("main")).to_contain_text("Lost: 7 jars of Beans")
    expect(page.get_by_role("main")).to_contain_text(
        "They are on hold: the lead decides what becomes of them."
    )
    expect(page.get_by_text("The judge checked every rule and found none broken.")).to_be_visible()
    lead.look("rest-difference")
    assert not Load.objects.filter(on_hold=True).exists()
    lead.press("Publish this plan")
    expect(page.get_by_role("status")).to_contain_text("The plan is published")
    lead.look("rest-published")
    beans.refresh_from_db()
    assert beans.on_hold
    assert "the gasket blew" in beans.deviation
