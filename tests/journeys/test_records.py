"""A record is signed by the operator and reviewed by a lead: by mouse, by keyboard, without scripts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from kitchen.members.signing_in import set_password
from kitchen.records.actions import sign_record
from kitchen.records.content import record_of
from kitchen.records.models import RecordSignature, SignatureKind
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.sites import make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

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


def test_an_operator_signs_by_mouse(run: Run, visit: Callable[[int | Way], Visitor]) -> None:
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


@every_way(without_scripts=True)
def test_a_lead_reviews_a_record(run: Run, visit: Callable[[int | Way], Visitor], way: Way) -> None:
    """Read, kept as a file, sent back with what is missing, signed again, and reviewed."""
    sign_record(load=run.load, by=run.site.operator, digest=record_of(run.load).digest)
    visitor = visit(way)
    visitor.sign_in(run.site.lead.email)
    page = visitor.page
    visitor.follow("Records to review")
    expect(page.get_by_role("heading", name="Records to review")).to_be_visible()
    visitor.look("records-to-review")
    visitor.follow(f"Record {run.load.lot_code}")
    expect(page.get_by_text("To be reviewed by a lead.")).to_be_visible()
    visitor.look("record-to-review")
    for name in ("PDF", "CSV"):
        with page.expect_download() as kept:
            visitor.follow(name)
        assert kept.value.suggested_filename == f"process-record-{run.load.lot_code}.{name.lower()}"
    visitor.type("A remark, or what is missing", "No reading at pressure")
    visitor.press("Send it back")
    expect(page.get_by_text("Sent back: to be signed again by")).to_be_visible()
    sign_record(load=run.load, by=run.site.operator, digest=record_of(run.load).digest)
    page.goto(f"/kitchens/{run.site.kitchen.slug}/loads/{run.load.uuid}/record/")
    visitor.press("Reviewed, nothing is missing")
    expect(page.get_by_text("No record waits for a review.")).to_be_visible()
    assert kinds() == [
        SignatureKind.SIGNED,
        SignatureKind.SENT_BACK,
        SignatureKind.SIGNED,
        SignatureKind.REVIEWED,
    ]
