"""The seal check on a phone: each jar is tapped, and those that did not seal are booked to be processed again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.equipment.models import CoolingTable
from kitchen.members.models import OpeningHours
from kitchen.planning.models import Load
from kitchen.reminders.links import make_token
from kitchen.reprocess.models import ReprocessBooking
from kitchen.seals.models import SealCheck
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.sites import make_site
from tests.journeys.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def run() -> Run:
    """Jars that came out thirteen hours ago, in a kitchen that is open day and night."""
    made = make_beans_out(make_site())
    made.day.state = "closed"
    made.day.save()
    OpeningHours.objects.update(opens=time(0), closes=time(23, 59))
    out = timezone.now() - timedelta(hours=13)
    Load.objects.filter(pk=made.load.pk).update(
        jars_out_at=out,
        process_ended_at=out - timedelta(hours=1),
        cooling_table=CoolingTable.objects.get(kitchen=made.site.kitchen),
        stands_until=out + timedelta(hours=24),
    )
    return made


def link(run: Run) -> str:
    return f"/s/{make_token(run.portion, run.site.member)}"


@pytest.mark.parametrize("width", [390, 1280])
def test_each_jar_is_tapped_and_an_unsealed_one_is_booked(
    run: Run, visit: Callable[[int], Visitor], width: int
) -> None:
    visitor = visit(width)
    page = visitor.page
    page.goto(link(run))
    expect(page.get_by_text("They stand on Long table")).to_be_visible()
    for jar in range(1, 8):
        page.get_by_role("button", name=f"{jar} not looked at").click()
    visitor.press_by_keyboard("7 Sealed")
    visitor.look("seals-count")
    expect(page.get_by_label("Sealed", exact=True)).to_have_value("6")
    visitor.press("Write it down")
    visitor.look("seals-result")
    page.get_by_role("link", name="Process again").click()
    visitor.look("reprocess-offer")
    page.get_by_label("Which trained person").select_option(label="Operator Fenwick")
    visitor.press("Book this time")
    expect(page.get_by_role("heading", name="Booked")).to_be_visible()
    visitor.look("reprocess-booked")
    check = SealCheck.objects.get()
    assert (check.sealed, check.unsealed, check.broken) == (6, 1, 0)
    assert ReprocessBooking.objects.get().batch.jars == 1


def test_counted_and_booked_without_a_script(run: Run, browser: Browser, live_server: LiveServer) -> None:
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(link(run))
        for label, count in (("Sealed", "5"), ("Not sealed, or doubtful", "2"), ("Broken", "0")):
            page.get_by_label(label, exact=True).fill(count)
        page.get_by_role("button", name="Write it down").click()
        page.get_by_role("link", name="Process again").click()
        page.get_by_label("Which trained person").select_option(label="Operator Fenwick")
        page.get_by_role("button", name="Book this time").click()
        expect(page.get_by_role("heading", name="Booked")).to_be_visible()
    assert ReprocessBooking.objects.get().batch.jars == 2
