"""A rota drawn up again by keyboard: the lead puts somebody at a canner, reads what changes, and publishes it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.members.signing_in import set_password
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.running import run_job
from kitchen.rota.actions import give_back
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
    set_password(user=made.lead, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """Tomorrow, planned and published; somebody has given a shift at fill back since."""
    tomorrow = timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=1)
    opened = make_open_day(site, day=tomorrow)
    declare(site, opened, jars=14)
    found = publish(site, opened)
    fill = found.shifts.filter(task="fill").order_by("starts_at", "pk")[0]
    assert fill.user is not None
    give_back(shift=fill, actor=fill.user)
    return found


@pytest.mark.parametrize("width", [390, 1280])
def test_a_rota_around_whom_the_lead_keeps(
    visit: Callable[[int], Visitor], site: Site, day: HarvestDay, width: int
) -> None:
    lead = visit(width)
    watch = day.shifts.filter(task="watch").order_by("starts_at", "pk")[0]
    to = next(one for one in (site.lead, site.operator) if one.pk != watch.user_id)
    lead.sign_in(site.lead.email)
    lead.page.goto(f"/kitchens/{site.kitchen.slug}/days/{day.uuid}/rota/everybody/")
    lead.press_by_keyboard("Draw up the rota again around people you keep")
    expect(lead.page.get_by_role("heading", name="Draw up the rota again")).to_be_visible()

    lead.press_by_keyboard(f"Canner: {day.shifts.filter(task='watch').count()} shifts")
    choice = lead.page.locator(f"#shift-{watch.pk}")
    choice.focus()
    lead.page.keyboard.type(str(to))
    expect(choice.locator("option:checked")).to_have_text(str(to))
    lead.look("rota-draw")
    tall = lead.page.locator("summary, select:visible, main button, main a.button").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().height)"
    )
    assert min(tall) >= 44
    lead.press_by_keyboard("Draw up the rota around these")
    expect(lead.page.get_by_role("heading", name=re.compile("^Planning"))).to_be_visible()
    run_job(PlanJob.objects.latest("pk").pk, clock=lambda: 0.0)
    expect(lead.page.get_by_role("heading", name="The rota drawn up again")).to_be_visible()
    expect(lead.page.get_by_role("region", name="Kept")).to_contain_text(f"{to}: watch for load")
    expect(lead.page.get_by_role("region", name="What it changes")).to_contain_text(f"{to}: ")
    expect(lead.page.get_by_role("region", name="How fair it is")).to_contain_text("no rota is below")
    lead.look("rota-drawn")
    lead.press_by_keyboard("Publish this rota")
    expect(lead.page.get_by_role("status")).to_contain_text("The plan is published")
    standing = Shift.objects.filter(harvest_day=day, cancelled_at__isnull=True)
    assert standing.get(load=watch.load, task="watch").user == to
    assert not standing.filter(user__isnull=True).exists()
