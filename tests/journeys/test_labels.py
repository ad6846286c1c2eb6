"""From the member's page to printed labels, and jars taken from the shelf; with and without scripts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.labels.models import ShelfMove
from kitchen.members.signing_in import set_password
from kitchen.planning.models import Load
from tests.factories.canner_runs import Run
from tests.factories.shelf import add_lots, make_shelf
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def run() -> Run:
    """A lot on the shelf, one on hold and one more; a day of the past, so that jars can leave now."""
    made = make_shelf()
    for user in (made.site.member, made.site.lead):
        set_password(user=user, password=PASSWORD, actor=None)
    held, _ = add_lots(made, 2)
    Load.objects.filter(pk=held.load_id).update(on_hold=True, deviation="Vented 8 of 10 minutes (rule S4).")
    past = timezone.now() - timedelta(days=3)
    Load.objects.filter(pk=made.load.pk).update(jars_out_at=past, process_ended_at=past - timedelta(hours=1))
    return made


@every_way(without_scripts=True)
def test_a_member_prints_labels(run: Run, visit: Callable[[int | Way], Visitor], way: Way) -> None:
    visitor = visit(way)
    visitor.sign_in(run.site.member.email)
    page = visitor.page
    visitor.follow("My shelf")
    visitor.look("labels-shelf")
    visitor.follow(f"{run.load.lot_code}-A")
    visitor.look("labels-lot")
    visitor.follow("Print labels")
    visitor.look("labels-print")
    with page.expect_download() as kept:
        visitor.press("Print labels")
    assert kept.value.suggested_filename == f"labels-{run.load.lot_code}-A.pdf"
    assert kept.value.path().read_bytes().startswith(b"%PDF-")


def test_a_lead_prints_a_day_and_looks_for_a_lot(run: Run, visit: Callable[[int | Way], Visitor]) -> None:
    visitor = visit(390)
    visitor.sign_in(run.site.lead.email)
    page = visitor.page
    visitor.follow("The whole shelf")
    visitor.look("labels-whole-shelf")
    page.goto(f"/kitchens/{run.site.kitchen.slug}/days/{run.day.uuid}/labels/")
    expect(page.get_by_text("on hold (rule S16)")).to_be_visible()
    visitor.look("labels-day")
    page.goto(f"/kitchens/{run.site.kitchen.slug}/lots/?code=none")
    visitor.complaints.clear()  # The browser notes that the page says 404.
    visitor.look("labels-find")


def test_jars_leave_the_shelf_without_a_script(run: Run, browser: Browser, live_server: LiveServer) -> None:
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/")
        page.get_by_label("E-mail address").fill(run.site.member.email)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("link", name="My shelf").click()
        page.get_by_role("link", name=f"{run.load.lot_code}-A", exact=True).click()
        page.get_by_label("How many jars").fill("3")
        page.get_by_role("button", name="Note it").click()
        expect(page.get_by_role("status")).to_contain_text("Noted: 3, taken home by the member.")
        expect(page.get_by_text("4 on hand")).to_be_visible()
        page.get_by_role("link", name="Print labels").click()
        with page.expect_download():
            page.get_by_role("button", name="Print labels").click()
    assert ShelfMove.objects.get().jars == 3
