"""What a process record says, and that page, CSV and PDF say it."""

from __future__ import annotations

import csv
import re
from datetime import datetime, timedelta
from io import StringIO

import pypdfium2
import pytest
from django.utils import translation

from kitchen.floor.models import EventKind
from kitchen.language.said import said
from kitchen.members.models import Kitchen
from kitchen.records.actions import sign_record
from kitchen.records.content import record_of
from kitchen.records.drawing import records_pdf
from kitchen.records.sheet import sections_of
from kitchen.records.table_file import HEADER, safe, table_of
from scheduler.caution import CAUTION
from tests.factories.canner_runs import BEANS_OUT, Run, make_applesauce_run, make_bean_run, make_beans_out
from tests.factories.sites import make_site
from tests.factories.widened import widen, widened

pytestmark = pytest.mark.django_db

# A run that lost pressure once; minutes after loading began.
LOST = (
    (EventKind.LOADED, 5, None),
    (EventKind.STEADY_STEAM, 17, None),
    (EventKind.WEIGHT_ON, 27, None),
    (EventKind.AT_PRESSURE, 32, 15),
    (EventKind.PRESSURE_LOST, 40, 13),
    (EventKind.AT_PRESSURE, 45, 15.5),
    (EventKind.HEAT_OFF, 70, None),
    (EventKind.ZERO_PRESSURE, 115, None),
    (EventKind.LID_OFF, 126, None),
)


@pytest.fixture
def run() -> Run:
    return make_beans_out(make_site())


def rows(run: Run) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(table_of([record_of(run.load)]), newline=""), strict=True))


def values(run: Run, section: str) -> dict[str, str]:
    return {row["what"]: row["value"] for row in rows(run) if row["section"] == section}


def text_of(pdf: bytes) -> list[str]:
    """The text of each page, its lines joined."""
    pages = list(pypdfium2.PdfDocument(pdf))
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in pages]


def test_times_of_a_run_that_lost_pressure() -> None:
    run = make_bean_run(make_site())
    for kind, minutes, psi in LOST:
        run.tap(kind, minutes, psi)
    run.take_out(131)
    assert values(run, "times") == {
        "Come-up, from heat on": "27 min",
        "Vent, steady steam to weight on": "10 min",
        "Process, as run": "25 min of 25 min",
        "Cool-down to zero pressure": "45 min",
        "Rest before the lid came off": "11 min",
        "Restarts of the clock": "1 time",
    }
    readings = [row["value"] for row in rows(run) if row["section"] == "line"]
    assert [reading for reading in readings if reading] == ["15 lb", "13 lb", "15.5 lb"]


def test_a_boiling_water_run_says_nothing_of_pressure() -> None:
    run = make_applesauce_run(make_site())
    run.tap(EventKind.LOADED, 5)
    told = values(run, "times")
    assert told["Process, as run"] == "not recorded of 20 min"
    assert not [what for what in told if "pressure" in what]
    assert "Reading needed on this gauge" not in values(run, "load")


def test_what_was_corrected_stays_readable(run: Run) -> None:
    lines = [row for row in rows(run) if row["section"] == "line"]
    assert [row["stands"] for row in lines] == ["yes"] * 8
    assert lines[0]["at"] == "2026-09-12 09:05:00-06:00"


def test_the_table_has_a_stable_header_and_whole_lines(run: Run) -> None:
    told = table_of([record_of(run.load)])
    assert told.startswith("load,section,at,what,value,who,written_at,remark,stands,digest\r\n")
    assert told.endswith("\r\n")
    assert told.count("\n") == told.count("\r\n")
    assert {len(row) for row in csv.reader(StringIO(told, newline=""), strict=True)} == {len(HEADER)}


@pytest.mark.parametrize("name", ["=1+1", "+7", "-2", "@SUM(A1)", "\t=1", " =1", "\uff1d1"])
def test_no_cell_is_a_formula(run: Run, name: str) -> None:
    run.site.member.display_name = name
    run.site.member.save()
    (jars, *_) = [row for row in rows(run) if row["section"] == "jars"]
    assert jars["who"] == f"'{name}"
    assert safe("Green beans - raw") == "Green beans - raw"


def test_a_hostile_note_breaks_no_line(run: Run) -> None:
    note = 'he said "stop",\r\n=HYPERLINK("x")'
    sign_record(load=run.load, by=run.site.operator, digest=record_of(run.load).digest, note=note)
    (signature,) = [row for row in rows(run) if row["section"] == "signature"]
    assert signature["remark"] == note


def test_the_hour_that_comes_twice_is_told_by_its_offset() -> None:
    run = make_beans_out(make_site())
    zone = run.site.kitchen.zone
    twice = datetime(2026, 11, 1, 1, 30, tzinfo=zone)
    run.load.__class__.objects.filter(pk=run.load.pk).update(state="planned")
    run.load.run_events.create(kind="loaded", at=twice, recorded_by=run.site.operator)
    run.load.run_events.create(
        kind="loaded",
        at=twice + timedelta(hours=1) if twice.fold else twice.replace(fold=1),
        recorded_by=run.site.operator,
    )
    told = [row["at"] for row in rows(run) if row["section"] == "line"][-2:]
    assert told == ["2026-11-01 01:30:00-06:00", "2026-11-01 01:30:00-07:00"]


def test_the_pdf_says_what_the_page_says(run: Run) -> None:
    record = record_of(run.load)
    pages = text_of(records_pdf([record], run.site.kitchen))
    whole = " ".join(pages)
    for page in pages:
        assert CAUTION in page
        assert record.digest in page
    for section in sections_of(record):
        assert section.title in whole
        for row in section.rows:
            for cell in row.cells:
                assert all(word in whole for word in cell.text.split()), cell


def test_the_same_record_gives_the_same_bytes(run: Run) -> None:
    record = record_of(run.load)
    assert records_pdf([record], run.site.kitchen) == records_pdf([record], run.site.kitchen)


@pytest.mark.parametrize(
    "name", ["Žofie Ґалайда", "Nguyễn Thị Ánh", "Ἀθηνᾶ Παππᾶ", "Հայկ Սարյան", "ქეთევანი"]
)
def test_names_in_other_letters_are_right_in_the_pdf(run: Run, name: str) -> None:
    run.site.operator.display_name = name
    run.site.operator.save()
    whole = " ".join(text_of(records_pdf([record_of(run.load)], run.site.kitchen)))
    assert all(word in whole for word in name.split())
    assert "white square" not in whole


def test_letters_that_cannot_be_set_are_told(run: Run) -> None:
    run.site.operator.display_name = "李雷"
    run.site.operator.save()
    whole = " ".join(text_of(records_pdf([record_of(run.load)], run.site.kitchen)))
    assert "“U+674E U+96F7”; a white square stands for each" in whole
    assert "□□" in whole


@pytest.mark.parametrize(("zone", "width"), [("America/Denver", 612), ("Europe/Prague", 595)])
def test_the_paper_is_that_of_the_place(run: Run, zone: str, width: int) -> None:
    Kitchen.objects.filter(pk=run.site.kitchen.pk).update(time_zone=zone)
    record = record_of(run.load)
    (page, *_) = list(pypdfium2.PdfDocument(records_pdf([record], record.kitchen)))
    assert round(page.get_width()) == width


def test_each_load_of_a_day_begins_on_a_page_with_its_own_digest(run: Run) -> None:
    other = make_beans_out(make_site())
    records = [record_of(run.load), record_of(other.load)]
    pages = text_of(records_pdf(records, run.site.kitchen))
    assert [records[0].digest in page for page in pages].count(True) >= 1
    assert all((records[0].digest in page) != (records[1].digest in page) for page in pages)


def test_fifty_lines_run_over_pages_with_their_headings(run: Run) -> None:
    for minute in range(60):
        run.load.run_events.create(
            kind="at_pressure",
            at=run.at(BEANS_OUT + minute),
            recorded_by=run.site.operator,
            note=f"look {minute}",
        )
    pages = text_of(records_pdf([record_of(run.load)], run.site.kitchen))
    assert len(pages) > 2
    assert sum("When What Value Who Written Remark" in page for page in pages) >= 2
    assert all(any(f"look {minute}" in page for page in pages) for minute in range(60))


def test_what_is_in_the_jars_and_the_caution_are_said_in_the_readers_language(run: Run) -> None:
    record = record_of(run.load)
    with translation.override("es"):
        jars = next(section for section in sections_of(record) if section.key == "jars")
        page = "".join(text_of(records_pdf([record], run.site.kitchen)))
        told = jars.entries[0].value
        assert told.startswith(f"{run.load.portions.get().jars} Cuarto de galón, ")
        assert told.endswith(", Envasado en crudo")
        # An inch is no word.
        assert " in." in jars.entries[0].remark
        assert said(CAUTION)[:40] in page
    assert CAUTION[:40] not in page


def test_what_people_wrote_stays_as_they_wrote_it(run: Run) -> None:
    note = "Two jars of 3 pint: lid on, and water to the rim"
    sign_record(load=run.load, by=run.site.operator, digest=record_of(run.load).digest, note=note)
    with translation.override("es"):
        remarks = [entry.remark for one in sections_of(record_of(run.load)) for entry in one.entries]
        assert said(note) != note, "words that the program might take for its own"
    assert any(remark.endswith(note) for remark in remarks)


def test_the_table_is_in_the_reader_s_language(run: Run) -> None:
    """In the language in which every translation shows: columns, sections and what the program says."""
    with widened(), translation.override("es"):
        header, *lines = csv.reader(StringIO(table_of([record_of(run.load)]), newline=""), strict=True)
    assert not any(re.search("[a-z]", column) for column in header)
    assert not any(re.search("[a-z]", line[1] + line[8]) for line in lines)
    steps = [line[3] for line in lines if line[3].startswith("8. ")]
    assert steps == [f"8. {widen('Frascos fuera')}"]
