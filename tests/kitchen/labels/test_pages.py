"""The pages of labels, lots and the shelf: who may see what, how many questions they ask, and what they refuse."""

from __future__ import annotations

from datetime import timedelta
from html import escape

import pypdfium2
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from kitchen.equipment.models import CannerKind, GaugeCheck
from kitchen.labels import urls
from kitchen.labels.models import ShelfMove
from kitchen.members.models import User
from kitchen.planning.models import Load
from scheduler.caution import CAUTION
from tests.factories.canner_runs import BEANS_OUT, Run, make_beans_out
from tests.factories.shelf import add_lots, make_shelf
from tests.factories.sites import make_site
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

SHEET = {"sheet": "a4-21", "start": "1", "with_name": "on"}
LEADS_ONLY = {"whole-shelf"}
STAFF_ONLY = LEADS_ONLY | {"day"}
OF_ANYBODY = {"shelf", "find"}


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Seven jars counted and on the shelf, two days after they came out; the clock stands still."""
    run = make_shelf()
    monkeypatch.setattr(timezone, "now", lambda: run.at(BEANS_OUT) + timedelta(days=2))
    return run


def code(run: Run) -> str:
    return f"{run.load.lot_code}-A"


def found(run: Run, slug: str = "") -> dict[str, str]:
    values = {
        "kitchen": slug or run.site.kitchen.slug,
        "portion": run.portion.uuid,
        "batch": run.portion.batch.uuid,
        "day": run.day.uuid,
        "code": code(run),
    }
    return addresses("labels", urls.urlpatterns, values)


def page(user: User, address: str, **given: str) -> str:
    return signed_in(user).get(address, given, follow=True).content.decode()


@pytest.mark.parametrize("name", sorted(str(one.name) for one in urls.urlpatterns))
def test_another_kitchens_pages_are_not_found(run: Run, name: str) -> None:
    elsewhere = make_site()
    stranger = signed_in(elsewhere.lead)
    before = rows()
    assert answers(stranger, found(run)[name]) == {404}
    if name not in OF_ANYBODY | LEADS_ONLY:
        assert answers(stranger, found(run, elsewhere.kitchen.slug)[name]) == {404}
    assert rows() == before


@pytest.mark.parametrize("name", sorted({str(one.name) for one in urls.urlpatterns} - OF_ANYBODY))
def test_another_members_jars_are_not_found(run: Run, name: str) -> None:
    other = signed_in(run.site.other)
    before = rows()
    assert answers(other, found(run)[name]) == {404}
    assert rows() == before


@pytest.mark.parametrize("name", ["jars", "batch", "lot", "shelf", "day", "whole-shelf"])
def test_member_operator_and_lead_see_what_is_theirs(run: Run, name: str) -> None:
    address = found(run)[name]
    status = [
        signed_in(user).get(address).status_code
        for user in (run.site.member, run.site.operator, run.site.lead)
    ]
    assert status == [404 if name in STAFF_ONLY else 200, 404 if name in LEADS_ONLY else 200, 200]
    assert Client().get(address).status_code == 302
    assert escape(CAUTION) in page(run.site.lead, address)


def test_three_presses_from_the_seal_check_to_the_sheet(run: Run) -> None:
    seal_check = page(run.site.member, f"/kitchens/{run.site.kitchen.slug}/jars/{run.portion.uuid}/")
    assert f'href="{found(run)["jars"]}"' in seal_check
    form = page(run.site.member, found(run)["jars"])
    assert f'name="labels-{run.portion.uuid}" value="7"' in form
    answer = signed_in(run.site.member).get(found(run)["jars"], {**SHEET, f"labels-{run.portion.uuid}": "3"})
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    (sheet,) = list(pypdfium2.PdfDocument(answer.content))
    text = sheet.get_textpage().get_text_bounded()
    assert text.count(f"Lot {code(run)}") == 3
    assert text.count(str(run.site.member)) == 3


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"count": "0"}, "No label is asked for."),
        ({"count": "8"}, "less than or equal to 7"),
        ({"count": "1", "start": "22"}, "This sheet has 21 labels."),
        ({"count": "1", "sheet": "b5"}, "Select a valid choice."),
    ],
)
def test_what_cannot_be_printed_is_said(run: Run, given: dict[str, str], told: str) -> None:
    asked = {**SHEET, f"labels-{run.portion.uuid}": given.pop("count"), **given}
    answer = signed_in(run.site.member).get(found(run)["jars"], asked)
    assert answer.status_code == 422
    assert told in answer.content.decode()


@pytest.mark.parametrize("name", ["jars", "batch", "day"])
def test_jars_on_hold_are_not_printed_even_when_asked_for(run: Run, name: str) -> None:
    Load.objects.filter(pk=run.load.pk).update(on_hold=True, deviation="Vented 8 of 10 minutes (rule S4).")
    answer = signed_in(run.site.lead).get(found(run)[name], {**SHEET, f"labels-{run.portion.uuid}": "3"})
    told = answer.content.decode()
    assert answer["Content-Type"].startswith("text/html")
    assert "No label:" in told
    assert "Vented 8 of 10 minutes" in told
    assert "lead has decided" in escape(told).replace("&#x27;", "'")
    assert "Print labels</button>" not in told


def test_uncounted_jars_lead_to_the_seal_check() -> None:
    run = make_beans_out(make_site())
    told = page(run.site.member, found(run)["jars"])
    assert "not checked yet" in told
    assert f"/jars/{run.portion.uuid}/" in told
    assert "Print labels</button>" not in told


def test_the_code_on_a_jar_leads_to_its_page_after_signing_in(run: Run) -> None:
    scanned = found(run)["scanned"]
    assert Client().get(scanned)["Location"] == f"/sign-in/?next={scanned}"
    assert signed_in(run.site.member).get(scanned)["Location"] == found(run)["lot"]


def test_a_lot_is_found_as_its_code_is_read_aloud(run: Run) -> None:
    said = code(run).lower().replace("-", " ")
    answer = signed_in(run.site.member).get(found(run)["find"], {"code": said})
    assert answer["Location"] == found(run)["lot"]
    missing = signed_in(run.site.other).get(found(run)["find"], {"code": said})
    assert missing.status_code == 404
    assert "No lot" in missing.content.decode()


def test_a_trace_goes_back_to_the_canner_and_forward_to_who_has_the_jars(run: Run) -> None:
    run.load.canner.kind = CannerKind.DIAL
    run.load.canner.save()
    GaugeCheck.objects.create(
        canner=run.load.canner, checked_on=run.day.date, error_psi="1.5", checked_by="Extension office"
    )
    signed_in(run.site.member).post(found(run)["move"], {"kind": "given", "jars": "2", "note": "Aunt Odalys"})
    told = page(run.site.lead, found(run)["lot"])
    for words in (
        run.load.canner.name,
        "1.50 lb above the true pressure",
        "Weight on, vent closed",
        str(run.site.operator),
        f"Brought by <strong>{run.site.member}",
        "7 sealed, 0 unsealed, 0 broken",
        "given to somebody else: Aunt Odalys",
        "5 on hand",
    ):
        assert words in told, words


def test_a_move_that_cannot_be_is_told_and_not_written(run: Run) -> None:
    answer = signed_in(run.site.member).post(found(run)["move"], {"kind": "used", "jars": "8"})
    assert answer.status_code == 422
    assert "8 jars cannot be taken" in answer.content.decode()
    assert not ShelfMove.objects.exists()


def test_the_shelf_says_what_to_use_first(run: Run) -> None:
    add_lots(run, 2)
    Load.objects.filter(pk=run.load.pk).update(process_ended_at=run.at(57) - timedelta(days=370))
    told = page(run.site.member, found(run)["shelf"])
    assert "21 jars on hand" in told
    assert told.index(f">{code(run)}<") < told.index(f">{run.load.lot_code[:-1]}2-A<")
    assert told.count("past its best") == 1


@pytest.mark.parametrize("name", ["shelf", "whole-shelf", "day", "batch"])
def test_a_list_asks_as_many_questions_for_a_hundred_lots_as_for_one(
    run: Run, name: str, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    client, address = signed_in(run.site.lead), found(run)[name]
    if name == "shelf":
        client = signed_in(run.site.member)
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        assert client.get(address).status_code == 200
    add_lots(run, 99)
    if name == "batch":
        run.portion.batch.portions.model.objects.filter(load__harvest_day=run.day).update(
            batch=run.portion.batch
        )
    with django_assert_num_queries(len(few)):
        told = client.get(address).content.decode()
    assert told.count(run.load.lot_code[:-1]) >= 100
