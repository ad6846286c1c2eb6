"""``python -m scheduler learn`` and the table of recorded times it reads."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.__main__ import main
from scheduler.learning import Measured, Record
from scheduler.records_file import BadRecordsFile, read_records, records_csv

SEASON = Path(__file__).parents[2] / "fixtures" / "records.csv"
HEAD = "subject,kind,usual_minutes,recorded_minutes,least_minutes\n"
TABLE = (
    "date,"
    + HEAD
    + "".join(f"2026-09-{day:02},P1 Old Grey,cool_down,40,22,30\n" for day in (1, 2))
    # Two cool-downs were forced; eight were quick, and none is planned below its minimum.
    + "".join(f"2026-09-{day:02},P1 Old Grey,cool_down,40,31,30\n" for day in range(3, 11))
    + "".join(f"2026-09-{day:02},P1 Old Grey,Heat-up,12.5,15,\n" for day in range(1, 10))
)
text = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=20).filter(
    str.strip
)
minutes = st.integers(1, 2000).map(lambda tenths: tenths / 10)


def enter(*argv: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    return main(("learn", *argv), out, err), out.getvalue(), err.getvalue()


@pytest.fixture
def table(tmp_path: Path) -> str:
    file = tmp_path / "records.csv"
    file.write_text(TABLE, encoding="utf-8")
    return str(file)


def test_what_was_usual_what_was_recorded_and_what_is_planned(table: str) -> None:
    status, out, err = enter(table, "--kept", "50")
    assert (status, err) == (0, "")
    lines = [line.split() for line in out.splitlines()]
    assert lines[1] == ["P1", "Old", "Grey", "cool-down", "40.0", "8", "0.78", "9%", "2", "0.79", "32", "30"]
    assert lines[2] == ["P1", "Old", "Grey", "heat-up", "12.5", "9", "1.20", "8%", "0", "1.18", "15", "-"]
    assert "counts as 4 records while there are none" in " ".join(out.split())


def test_the_invented_seasons_records() -> None:
    """One heat-up took three times as long, one cool-down was forced; the heavy wall asks for 45 min with quarts."""
    status, out, _ = enter(str(SEASON), "--json")
    heat_up, cool_down, pot, prep = json.loads(out)
    assert status == 0
    assert (heat_up["subject"], heat_up["records"], heat_up["set_aside"]) == ("P1 Old Grey", 20, 1)
    assert 1.18 <= heat_up["centre"] < heat_up["pace"] <= 1.3
    assert (cool_down["not_counted"], cool_down["least_minutes"]) == (1, 45)
    assert cool_down["planned_minutes"] >= 45
    assert (pot["subject"], prep["kind"]) == ("B1 Big Blue", "prep")
    assert pot["pace"] < 1 < prep["pace"]


def test_a_cool_down_is_held_at_its_minimum(tmp_path: Path) -> None:
    file = tmp_path / "quick.csv"
    file.write_text(HEAD + "P1,cool_down,36,30,30\n" * 20 + "P2,cool_down,20,20,30\n", encoding="utf-8")
    _, out, _ = enter(str(file), "--json", "--kept", "50")
    first, forced = json.loads(out)
    assert (first["planned_minutes"], first["held_at_least"]) == (31, False)
    assert (forced["records"], forced["not_counted"]) == (0, 1)
    assert (forced["planned_minutes"], forced["held_at_least"]) == (30, True)
    assert "30*" in enter(str(file))[1]


def test_the_answer_for_a_machine(table: str) -> None:
    status, out, _ = enter(table, "--json")
    cool_down, heat_up = json.loads(out)
    assert status == 0
    assert (cool_down["subject"], cool_down["kind"], cool_down["least_minutes"]) == (
        "P1 Old Grey",
        "cool_down",
        30,
    )
    assert (heat_up["records"], heat_up["median"], heat_up["set_aside"]) == (9, 1.2, 0)
    assert heat_up["planned_minutes"] == 16


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "Line 1: There is no column subject."),
        ("subject,kind\n", "Line 1: There is no column usual_minutes."),
        (HEAD + "P1,vent,10,9,\n", "Line 2: 'vent' is nothing that is learned."),
        (HEAD + ",heat_up,10,9,\n", "Line 2: No subject is given."),
        (HEAD + "P1,heat_up,0,9,\n", "Line 2: usual_minutes is '0'."),
        (HEAD + "P1,heat_up,10,nan,\n", "Line 2: recorded_minutes is 'nan'."),
        (HEAD + "P1,heat_up,10\n", "Line 2: recorded_minutes is ''."),
        (HEAD + "P1,heat_up,10,9,-3\n", "Line 2: least_minutes is '-3'."),
        (HEAD + 'P1,"heat_up,10,9,\n', "This is no CSV"),
    ],
)
def test_what_is_no_table_is_refused_with_its_line(tmp_path: Path, content: str, said: str) -> None:
    file = tmp_path / "records.csv"
    file.write_text(content, encoding="utf-8")
    status, out, err = enter(str(file))
    assert (status, out) == (1, "")
    assert said in err


def test_a_file_that_is_not_there_or_not_text_is_refused(tmp_path: Path) -> None:
    assert enter(str(tmp_path / "none.csv"))[0] == 1
    (tmp_path / "latin.csv").write_bytes(HEAD.encode() + b"P\xe9,heat_up,10,9,\n")
    assert "UTF-8" in enter(str(tmp_path / "latin.csv"))[2]


@pytest.mark.parametrize("kept", ["49", "96", "80.5", "many"])
def test_a_share_beyond_reason_is_wrong_usage(table: str, kept: str) -> None:
    assert enter(table, "--kept", kept)[0] == 2


@given(
    st.lists(
        st.builds(
            Record,
            subject=text.map(str.strip),
            kind=st.sampled_from(Measured),
            usual_minutes=minutes,
            recorded_minutes=minutes,
            least_minutes=st.integers(0, 60),
        ),
        max_size=10,
    )
)
def test_what_is_written_reads_back_the_same(records: list[Record]) -> None:
    assert read_records(records_csv(records)) == tuple(records)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_with_its_line(content: str) -> None:
    said = ""
    try:
        read_records(HEAD + content)
    except BadRecordsFile as refused:
        said = refused.message
    assert not said or said.startswith("Line ")
