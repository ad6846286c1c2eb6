"""A record is signed by the operator and reviewed by a lead: by mouse, by keyboard, without scripts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.members.actions import set_password
from kitchen.records.actions import sign_record
from kitchen.records.content import record_of
from kitchen.records.models import RecordSignature, SignatureKind
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.sites import make_site
from tests.journeys.visitor import PASSWORD, Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def run() -> Run:
    """Seven quarts of beans whose run is recorded."""
    made = make_beans_out(make_site())
    for user in (made.site.operator, made.site.lead):
        set_password(user=user, password=PASSWORD, actor=None)
    return made


def kinds() -> list[str]:
    return list(RecordSignature.objects.order_by("pk").values_list("kind", flat=True))


def test_an_operator_signs_by_mouse(run: Run, visit: Callable[[int], Visitor]) -> None:
    visitor = visit(390)
    visitor.sign_in(run.site.operator.email)
    page = visitor.page
    page.goto(f"/kitchens/{run.site.kitchen.slug}/days/{run.day.uuid}/records/")
    visitor.look("records-day")
    page.get_by_role("link", name=f"Record {run.load.lot_code}").click()
    visitor.look("record-to-sign")
    visitor.press("Sign the record")
    expect(page.get_by_role("status")).to_contain_text("Signed.")
    assert kinds() == [SignatureKind.SIGNED]


@pytest.mark.parametrize("width", [390, 1280])
def test_a_lead_reviews_by_keyboard(run: Run, visit: Callable[[int], Visitor], width: int) -> None:
    sign_record(load=run.load, by=run.site.operator, digest=record_of(run.load).digest)
    visitor = visit(width)
    visitor.sign_in(run.site.lead.email)
    page = visitor.page
    visitor.press_by_keyboard("Records to review")
    expect(page.get_by_role("heading", name="Records to review")).to_be_visible()
    visitor.look("records-to-review")
    visitor.press_by_keyboard(f"Record {run.load.lot_code}")
    expect(page.get_by_text("To be reviewed by a lead.")).to_be_visible()
    visitor.look("record-to-review")
    for name in ("PDF", "CSV"):
        with page.expect_download() as kept:
            visitor.press_by_keyboard(name)
        assert kept.value.suggested_filename == f"process-record-{run.load.lot_code}.{name.lower()}"
    visitor.press_by_keyboard("Reviewed, nothing is missing")
    expect(page.get_by_text("No record waits for a review.")).to_be_visible()
    assert kinds() == [SignatureKind.SIGNED, SignatureKind.REVIEWED]


def test_a_lead_sends_a_record_back_without_a_script(
    run: Run, browser: Browser, live_server: LiveServer
) -> None:
    sign_record(load=run.load, by=run.site.operator, digest=record_of(run.load).digest)
    with browser.new_context(base_url=live_server.url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/")
        page.get_by_label("E-mail address").fill(run.site.lead.email)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("link", name="Records to review").click()
        page.get_by_role("link", name=f"Record {run.load.lot_code}").click()
        page.get_by_label("A remark, or what is missing").fill("No reading at pressure")
        page.get_by_role("button", name="Send it back").click()
        expect(page.get_by_text("Sent back: to be signed again by")).to_be_visible()
    assert kinds() == [SignatureKind.SIGNED, SignatureKind.SENT_BACK]
