"""What is brought by a table: every row's problems are told before anything is written, then it is all or nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitchen.audit.models import AuditEvent
from kitchen.batches.actions import cancel_batch
from kitchen.batches.bringing import bring_table
from kitchen.batches.intake_rows import HEADINGS, Row, read_rows
from kitchen.batches.models import Batch, Jar, Pack, Unit
from kitchen.batches.sheet import LONGEST_CELL, MOST_BYTES, MOST_COLUMNS, MOST_ROWS, Line, lines_of, text_of
from kitchen.errors import BadTable, NotAllowed
from kitchen.language.person import written_for
from kitchen.language.said import said
from kitchen.planning.models import DayState, HarvestDay
from tests.factories.sites import Site, declare, make_open_day, make_site

HEAD = "food,amount,unit,jar,pack,arrives,picks_up,member\n"
BEANS = "snap_beans,9,jars,pint,raw,,,\n"


@pytest.fixture
def site(db: None) -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site, helpers=False)


def rows(site: Site, day: HarvestDay, text: str, *, by_lead: bool = True) -> list[Row]:
    actor = site.lead if by_lead else site.member
    return read_rows(kitchen=site.kitchen, harvest_day_id=day.pk, text=text, actor=actor)


def bring(site: Site, day: HarvestDay, text: str, **more: object) -> list[Batch]:
    return bring_table(
        kitchen=site.kitchen,
        harvest_day_id=day.pk,
        text=text,
        actor=site.lead,
        **more,  # type: ignore[arg-type]  # Each case gives another.
    )


def told(row: Row) -> str:
    return "; ".join(f"{one.column}: {one.message} {one.remedy}" for one in row.problems)


@pytest.mark.parametrize(
    "content",
    [
        "food,amount\nÑame,1\n".encode(),
        b"\xef\xbb\xbf" + "food,amount\nÑame,1\n".encode(),
        "food,amount\nÑame,1\n".encode("utf-16"),
        "food,amount\nÑame,1\n".encode("cp1252"),
        "food;amount\r\nÑame;1\r\n".encode(),
        "food\tamount\rN\u0303ame\t1\r".encode(),
        'food,amount\n"Ñame",1\n'.encode(),
    ],
)
def test_whatever_a_spreadsheet_writes_is_read(content: bytes) -> None:
    assert [line.cells for line in lines_of(text_of(content))] == [("food", "amount"), ("Ñame", "1")]


def test_rows_keep_the_numbers_that_a_spreadsheet_shows() -> None:
    assert lines_of("food,amount\n\n,\nbeans,1\n")[1] == Line(4, ("beans", "1"))


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"food\x00,amount\nbeans,1\n", "no text"),
        (b"\x81\x8d\x8f", "no text"),
        (b"\xff\xfe\x00", "no text"),
        (b"PK\x03\x04\x00\x00", "no text"),
        (b"", "no row"),
        (b"food,amount\n", "no row"),
        (b"\n\n\n", "no row"),
        (b'food,amount\n"beans,1\n', "cannot be read"),
        (b"food,amount\n" + b"beans,1\n" * (MOST_ROWS + 1), f"more than {MOST_ROWS} rows"),
        (b"," * MOST_COLUMNS + b"\nbeans\n", f"more than {MOST_COLUMNS} columns"),
        (b"x" * (MOST_BYTES + 1), "larger than 200 kB"),
        (b'"' * MOST_BYTES, "cannot be read|no row"),
    ],
)
def test_what_is_no_table_is_refused_with_what_to_do(content: bytes, why: str) -> None:
    with pytest.raises(BadTable, match=why) as refusal:
        lines_of(text_of(content))
    assert refusal.value.remedy


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None)
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    try:
        found = lines_of(text_of(content))
    except BadTable:
        return
    assert all(len(line.cells) <= MOST_COLUMNS for line in found)


@pytest.mark.parametrize(
    ("head", "why"),
    [
        ("food,amount,unit,jar\n", "column Pack is missing"),
        ("food,amount,unit,jar,pack,shoe\n", "No column is called 'shoe'"),
        ("food,amount,unit,jar,pack,Food\n", "Food stands there twice"),
    ],
)
def test_headings_are_held_to_what_there_is(site: Site, day: HarvestDay, head: str, why: str) -> None:
    with pytest.raises(BadTable, match=why):
        rows(site, day, head + BEANS)


@pytest.mark.parametrize(
    ("row", "column", "why"),
    [
        ("moon_cheese,9,jars,pint,raw,,,", "Food", "No food is called"),
        (",9,jars,pint,raw,,,", "Food", "Nothing stands there"),
        ("snap_beans,,jars,pint,raw,,,", "How much", "Nothing stands there"),
        ("snap_beans,0,jars,pint,raw,,,", "How much", "no amount"),
        ("snap_beans,-3,jars,pint,raw,,,", "How much", "no amount"),
        ("snap_beans,nan,jars,pint,raw,,,", "How much", "no amount"),
        ("snap_beans,1e5,jars,pint,raw,,,", "How much", "no amount"),
        ('snap_beans,"1,500",jars,pint,raw,,,', "How much", "no amount"),
        ("snap_beans,\u0661,jars,pint,raw,,,", "How much", "no amount"),
        ("snap_beans,9,barrels,pint,raw,,,", "Counted in", "not one of the choices"),
        ("snap_beans,9,jars,bucket,raw,,,", "Jars", "not one of the choices"),
        ("snap_beans,9,jars,pint,loose,,,", "Pack", "not one of the choices"),
        ("snap_beans,9,jars,pint,raw,25:00,,", "Arrives at", "no time"),
        ("snap_beans,9,jars,pint,raw,05:00,,", "Arrives at", "The kitchen is open from 07:00 to 20:00"),
        ("snap_beans,9,jars,pint,raw,12:00,11:00,", "Arrives at", "picked up before"),
        ("snap_beans,9,jars,pint,raw,,,nobody@yard.example", "E-mail address of the member", "Nobody here"),
        ("snap_beans,999999,jars,pint,raw,,,", "Food", "That would make 999,999 jars"),
        ("snap_beans,9,jars,half_gallon,raw,,,", "Food", "published"),
        ("snap_beans,9,jars,pint,raw,,,,more", "", "more cells than there are headings"),
        (f"{'b' * (LONGEST_CELL + 1)},9,jars,pint,raw,,,", "Food", "longer than"),
        ("snap_\u202ebeans,9,jars,pint,raw,,,", "Food", "cannot be seen"),
        ("snap_\u200bbeans,9,jars,pint,raw,,,", "Food", "cannot be seen"),
        ('"snap\nbeans",9,jars,pint,raw,,,', "Food", "cannot be seen"),
    ],
)
def test_each_problem_names_its_column(site: Site, day: HarvestDay, row: str, column: str, why: str) -> None:
    [found] = rows(site, day, f"{HEAD}{row}\n")
    assert why in told(found)
    assert [one.column for one in found.problems] == [column]
    assert found.problems[0].remedy


def test_all_problems_of_a_row_are_told_at_once(site: Site, day: HarvestDay) -> None:
    [found] = rows(site, day, HEAD + "snap_beans,x,barrels,bucket,loose,99,99,nobody\n")
    assert len(found.problems) == 7


def test_words_of_the_form_in_either_language_are_understood(site: Site, day: HarvestDay) -> None:
    """By value, by its words, and by its words in the reader's language."""
    with written_for("es", "us"):
        words = read_rows(
            kitchen=site.kitchen,
            harvest_day_id=day.pk,
            actor=site.lead,
            text="Alimento;Cuánto;Contado en;Frascos;Forma de envasar\n"
            f"snap-beans;1,5;bushels;Pint;{said(Pack.RAW.label)}\n",
        )
    [found] = words
    assert not found.problems, told(found)
    assert found.wanted is not None
    assert (found.wanted.amount, found.wanted.unit, found.wanted.pack) == (Decimal("1.5"), "bushel", "raw")


def test_kilograms_become_pounds(site: Site, day: HarvestDay) -> None:
    [found] = rows(site, day, HEAD + "snap_beans,10,kilograms,pint,raw,,,\n")
    assert found.wanted is not None
    assert (found.wanted.amount, found.wanted.unit) == (Decimal("22.05"), "pounds")


def test_a_row_is_what_declaring_it_would_be(site: Site, day: HarvestDay) -> None:
    text = HEAD + f"Snap_Beans,9,Jars,Pint,Raw pack,09:15,17:30,{site.member.email.upper()}\n"
    [batch] = bring(site, day, text)
    assert (batch.food_id, batch.jars, batch.unit, batch.jar, batch.pack) == (
        "snap_beans",
        9,
        "jars",
        "pint",
        "raw",
    )
    assert (batch.member, batch.harvest_day_id) == (site.member, day.pk)
    assert (batch.arrives_at, batch.picks_up_at) == (site.at(9, 15), site.at(17, 30))


def test_only_a_lead_brings_for_others(site: Site, day: HarvestDay) -> None:
    [found] = rows(site, day, HEAD + f"snap_beans,9,jars,pint,raw,,,{site.other.email}\n", by_lead=False)
    assert "Only a lead" in told(found)
    [found] = rows(site, day, HEAD + f"snap_beans,9,jars,pint,raw,,,{site.member.email}\n", by_lead=False)
    assert not found.problems


def test_each_batch_leaves_one_line_and_nothing_else_does(site: Site, day: HarvestDay) -> None:
    text = HEAD + BEANS + "tomato_juice,1,bushel,quart,hot,,,\n"
    before = AuditEvent.objects.count()
    rows(site, day, text)
    assert (AuditEvent.objects.count(), Batch.objects.count()) == (before, 0)
    made = bring(site, day, text)
    lines = AuditEvent.objects.order_by("pk")[before:]
    assert [(one.action, one.object_id) for one in lines] == [("declare_batch", str(one.pk)) for one in made]


def test_one_wrong_row_leaves_nothing_unless_it_is_to_be_skipped(site: Site, day: HarvestDay) -> None:
    text = HEAD + BEANS + "moon_cheese,9,jars,pint,raw,,,\n"
    with pytest.raises(BadTable, match="1 of 2 rows") as refusal:
        bring(site, day, text)
    assert refusal.value.problems[0].startswith("Row 3, Food: No food is called")
    assert not Batch.objects.exists()
    assert len(bring(site, day, text, skip_wrong=True)) == 1


def test_a_table_without_any_good_row_is_refused(site: Site, day: HarvestDay) -> None:
    with pytest.raises(BadTable, match="1 of 1 rows"):
        bring(site, day, HEAD + "moon_cheese,9,jars,pint,raw,,,\n", skip_wrong=True)


def test_what_was_not_looked_at_is_not_noted(site: Site, day: HarvestDay) -> None:
    text = HEAD + BEANS
    with pytest.raises(BadTable, match="Not the same rows"):
        bring(site, day, text, looked_at=frozenset({2, 3}))
    declare(site, day, jar="pint", jars=9)
    assert len(bring(site, day, text, looked_at=frozenset({2}))) == 1


def test_a_second_press_notes_nothing(site: Site, day: HarvestDay) -> None:
    bring(site, day, HEAD + BEANS, looked_at=frozenset({2}))
    with pytest.raises(BadTable):
        bring(site, day, HEAD + BEANS, looked_at=frozenset({2}))
    [batch] = Batch.objects.all()
    [again] = rows(site, day, HEAD + BEANS)
    assert "noted already" in told(again)
    cancel_batch(batch=batch, actor=site.lead)
    assert not rows(site, day, HEAD + BEANS)[0].problems


def test_the_same_row_twice_is_a_slip(site: Site, day: HarvestDay) -> None:
    first, second = rows(site, day, HEAD + BEANS + BEANS)
    assert (told(first), "Row 2 says the same" in told(second)) == ("", True)


def test_a_day_that_is_over_takes_nothing(site: Site, day: HarvestDay) -> None:
    HarvestDay.objects.filter(pk=day.pk).update(state=DayState.CLOSED)
    assert "is over" in told(rows(site, day, HEAD + BEANS)[0])


def test_strangers_bring_nothing(site: Site, day: HarvestDay) -> None:
    with pytest.raises(NotAllowed):
        bring_table(kitchen=site.kitchen, harvest_day_id=day.pk, text=HEAD + BEANS, actor=make_site().lead)


def test_the_most_rows_are_looked_at_with_few_questions(
    site: Site, day: HarvestDay, django_assert_max_num_queries: object
) -> None:
    text = HEAD + "".join(f"{'moon ' * 20}{number},9,jars,pint,raw,,,\n" for number in range(MOST_ROWS))
    with django_assert_max_num_queries(8):  # type: ignore[operator]  # A fixture without types.
        found = rows(site, day, text)
    assert len(found) == MOST_ROWS
    assert all("No food is called" in told(row) for row in found)


def test_the_headings_are_told(site: Site, day: HarvestDay) -> None:
    """What a person reads on the page is what the table understands."""
    labels = ",".join(f'"{label}"' for label in HEADINGS.values())
    for unit in Unit.labels[:1]:
        for jar in (Jar.PINT.label, Jar.QUART.label):
            row = f'Snap beans,3,{unit},"{jar}",{Pack.RAW.label},,,\n'
            [found] = rows(site, day, f"{labels}\n{row}")
            assert "choices" not in told(found)
    assert day.closes_at - day.opens_at > timedelta(hours=1)
