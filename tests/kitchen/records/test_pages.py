"""The pages of process records: who may read what, how many questions they ask, and what is pressed."""

from __future__ import annotations

from datetime import timedelta
from html import escape

import pypdfium2
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitchen.equipment.models import Canner
from kitchen.members.models import User
from kitchen.planning.models import Load
from kitchen.records import urls
from kitchen.records.content import record_of
from kitchen.records.models import RecordSignature, SignatureKind
from scheduler.caution import CAUTION
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.shelf import add_lots
from tests.factories.sites import DAY, make_open_day, make_site
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

LEADS_ONLY = {"to-review"}
PRESSES = {"sign", "review"}


@pytest.fixture
def run() -> Run:
    return make_beans_out(make_site())


def found(run: Run) -> dict[str, str]:
    values = {"kitchen": run.site.kitchen.slug, "load": run.load.uuid, "day": run.day.uuid}
    return addresses("records", urls.urlpatterns, values)


def page(user: User, address: str) -> str:
    return signed_in(user).get(address).content.decode()


def press(run: Run, user: User, name: str, **given: str) -> str:
    asked = {"digest": record_of(run.load).digest, **given}
    return signed_in(user).post(found(run)[name], asked, follow=True).content.decode()


@pytest.mark.parametrize("name", sorted(str(one.name) for one in urls.urlpatterns))
def test_members_and_strangers_find_nothing(run: Run, name: str) -> None:
    clients = [signed_in(user) for user in (run.site.member, make_site().lead)]
    before = rows()
    assert [answers(client, found(run)[name]) for client in clients] == [{404}, {404}]
    assert rows() == before
    assert Client().get(found(run)[name]).status_code in (302, 405)


@pytest.mark.parametrize("name", sorted({str(one.name) for one in urls.urlpatterns} - PRESSES))
def test_operators_and_leads_read(run: Run, name: str) -> None:
    address = found(run)[name]
    status = [signed_in(user).get(address).status_code for user in (run.site.operator, run.site.lead)]
    assert status == [404 if name in LEADS_ONLY else 200, 200]
    if not name.endswith(("csv", "pdf")):
        assert escape(CAUTION) in page(run.site.lead, address)


def test_a_record_is_signed_and_reviewed_by_pressing(run: Run) -> None:
    assert "Sign the record" in page(run.site.operator, found(run)["load"])
    assert "Sign the record" not in page(run.site.lead, found(run)["load"])
    assert "Signed. A lead reviews the record next." in press(run, run.site.operator, "sign", note="All well")
    assert f"Record {run.load.lot_code}" in page(run.site.lead, found(run)["to-review"])
    told = press(run, run.site.lead, "review", outcome="reviewed")
    assert "No record waits for a review." in told
    assert [one.note for one in RecordSignature.objects.order_by("pk")] == ["All well", ""]


def test_refusals_are_told_and_nothing_is_written(run: Run) -> None:
    assert "is not signed by" in press(run, run.site.lead, "review", outcome="reviewed")
    assert "has changed since" in press(run, run.site.operator, "sign", digest="0" * 64)
    assert "could not be read" in press(run, run.site.operator, "sign", digest="")
    press(run, run.site.operator, "sign")
    assert "not said what is missing" in press(run, run.site.lead, "review", outcome="sent_back")
    assert RecordSignature.objects.count() == 1


def test_what_is_missing_is_read_by_the_operator(run: Run) -> None:
    press(run, run.site.operator, "sign")
    press(run, run.site.lead, "review", outcome="sent_back", note="No reading at <pressure>")
    told = page(run.site.operator, found(run)["load"])
    assert "No reading at &lt;pressure&gt;" in told
    assert "Sign the record" in told


def test_a_note_cannot_be_markup_in_the_pdf(run: Run) -> None:
    press(run, run.site.operator, "sign", note="<b>bold</b> & <img src='x'/>")
    answer = signed_in(run.site.lead).get(found(run)["load-pdf"])
    text = " ".join(one.get_textpage().get_text_bounded() for one in pypdfium2.PdfDocument(answer.content))
    assert "<b>bold</b> & <img" in " ".join(text.split())


@pytest.mark.parametrize("name", ["day", "day-csv", "to-review"])
def test_lists_ask_as_much_for_forty_loads_as_for_one(run: Run, name: str) -> None:
    lead = signed_in(run.site.lead)

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert lead.get(found(run)[name]).status_code == 200
        return len(queries)

    one = asked()
    for portion in add_lots(run, 40):
        line = portion.load.run_events.create(kind="jars_out", at=run.at(120), recorded_by=run.site.operator)
        RecordSignature.objects.create(
            load=portion.load,
            kind=SignatureKind.SIGNED,
            by=run.site.operator,
            digest="0" * 64,
            last_line=line,
        )
    assert asked() == one


def test_the_list_shows_the_oldest_and_says_how_many_more(run: Run) -> None:
    for portion in add_lots(run, 26):
        portion.load.run_events.create(kind="jars_out", at=run.at(120), recorded_by=run.site.operator)
    told = page(run.site.lead, found(run)["to-review"])
    assert "2 more records wait" in told
    assert told.count(">Record ") == 25
    assert len(told) < 100_000


def test_the_day_and_the_start_page_lead_here(run: Run) -> None:
    run.day.state = "published"
    run.day.save()
    slug = run.site.kitchen.slug
    day = f"/kitchens/{slug}/days/{run.day.uuid}/"
    assert f'href="{found(run)["day"]}"' in page(run.site.operator, day)
    assert f'href="{found(run)["day"]}"' not in page(run.site.member, day)
    assert f'href="{found(run)["to-review"]}"' in page(run.site.lead, f"/kitchens/{slug}/")
    lot = f"/kitchens/{slug}/lots/{run.load.lot_code}-A/"
    assert f'href="{found(run)["load"]}"' in page(run.site.operator, lot)


def test_a_day_without_lines_has_no_pdf_and_says_what_becomes_the_record(run: Run) -> None:
    Load.objects.filter(pk=run.load.pk).update(
        harvest_day=make_open_day(run.site, day=DAY + timedelta(days=1))
    )
    assert "becomes the record" in page(run.site.lead, found(run)["day"])
    assert signed_in(run.site.lead).get(found(run)["day-pdf"]).status_code == 404


def test_lists_and_entries_show_each_change_at_once(run: Run) -> None:
    """They are written once while they are as they are."""
    names = {"day": run.day.uuid, "load": run.load.uuid}

    def page(name: str) -> str:
        address = reverse(f"records:{name}", args=[run.site.kitchen.slug, names[name]])
        return signed_in(run.site.lead).get(address).content.decode()

    canner, load = Canner.objects.filter(pk=run.load.canner_id), Load.objects.filter(pk=run.load.pk)
    operator = User.objects.filter(pk=run.site.operator.pk)
    changes: list[tuple[object, dict[str, object], str, tuple[str, ...]]] = [
        (canner, {"name": "The big pot"}, "The big pot", ("day", "load")),
        (load, {"lot_code": "TY-PLUM-1"}, "TY-PLUM-1", ("day", "load")),
        (
            load,
            {"jars_out_at": run.at(133)},
            f"{run.at(133).astimezone(run.site.kitchen.zone):%H:%M}",
            ("day",),
        ),
        (operator, {"display_name": "Medlar Fenn"}, "Medlar Fenn", ("day", "load")),
        (load, {"process_minutes": 44}, "44 min", ("load",)),
    ]
    for changing, changed, shown, on in changes:
        for name in on:
            assert shown not in page(name)
        changing.update(**changed)  # type: ignore[attr-defined]  # Rows of several tables.
        for name in on:
            assert shown in page(name), (changed, name)
