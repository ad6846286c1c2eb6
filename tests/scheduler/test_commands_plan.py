"""``python -m scheduler plan``, ``judge``, ``schema`` and ``bench``: what they print, write and end with."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from icalendar import Calendar

from scheduler.__main__ import main
from scheduler.caution import CAUTION
from scheduler.commands.bench_days import measure
from scheduler.day_file import read_day, schema
from scheduler.generator import Size
from scheduler.judge import judge
from scheduler.plan_file import read_plan

DAYS = Path(__file__).parents[2] / "fixtures" / "days"
TINY = DAYS / "tiny.toml"


def enter(*argv: str | Path) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    status = main([str(one) for one in argv], out, err)
    return status, out.getvalue(), err.getvalue()


def test_a_day_is_planned_judged_written_and_printed(tmp_path: Path) -> None:
    plan_path, calendar_path, chart_path = (tmp_path / name for name in ("p.json", "p.ics", "p.svg"))
    status, out, err = enter(
        "plan", TINY, "--seconds", "0.2", "--json", plan_path, "--ics", calendar_path, "--svg", chart_path
    )
    assert (status, err) == (0, "")
    assert out.startswith("Lower Mill Kitchen, Sat 5 Sep 2026\n")
    assert " ".join(out.split()).endswith(CAUTION)
    plan = read_plan(plan_path.read_text(encoding="utf-8"))
    assert judge(read_day(TINY.read_text(encoding="utf-8")), plan) == ()
    assert chart_path.read_text(encoding="utf-8").startswith("<svg ")
    events = Calendar.from_ical(calendar_path.read_bytes()).walk("VEVENT")
    assert [str(event["SUMMARY"]) for event in events] == [
        "Blue pot, load 1: 8 pint applesauce",
        "First call, seal check: 8 pint applesauce (Blue pot, load 1)",
        "Last call, seal check: 8 pint applesauce (Blue pot, load 1)",
    ]
    assert enter("judge", TINY, plan_path)[0] == 0


def test_the_same_seed_plans_the_same_day(tmp_path: Path) -> None:
    texts = []
    for name in ("one.json", "two.json"):
        assert (
            enter(
                "plan", DAYS / "applesauce.toml", "--seconds", "0.2", "--seed", "7", "--json", tmp_path / name
            )[0]
            == 0
        )
        texts.append((tmp_path / name).read_text(encoding="utf-8"))
    assert texts[0] == texts[1]
    assert json.loads(texts[0])["plan"]["provenance"]["seed"] == 7


def test_the_uids_of_a_calendar_stay_the_same(tmp_path: Path) -> None:
    uids = []
    for name in ("one.ics", "two.ics"):
        enter("plan", TINY, "--seconds", "0", "--ics", tmp_path / name)
        events = Calendar.from_ical((tmp_path / name).read_bytes()).walk("VEVENT")
        uids.append([str(event["UID"]) for event in events])
    assert uids[0] == uids[1]
    assert len(set(uids[0])) == 3


def test_the_judge_accepts_the_plan_that_is_kept_with_the_tiny_day() -> None:
    status, out, err = enter("judge", TINY, DAYS / "tiny.json")
    assert (status, err) == (0, "")
    assert out.startswith("The plan keeps every rule.\n")
    assert " ".join(out.split()).endswith(CAUTION)


def test_the_judge_names_the_rule_and_the_load(tmp_path: Path) -> None:
    """Rule S4: a boiling-water process cut short by five minutes."""
    file = json.loads((DAYS / "tiny.json").read_text(encoding="utf-8"))
    load = file["plan"]["loads"][0]
    load["phases"][2]["end"] -= 5
    load["process_minutes"] -= 5
    changed = tmp_path / "changed.json"
    changed.write_text(json.dumps(file), encoding="utf-8")
    status, out, err = enter("judge", TINY, changed)
    assert (status, err) == (1, "")
    assert any(
        line.startswith(("S1, load blue-pot-1: ", "S3, load blue-pot-1: ")) for line in out.splitlines()
    )


def test_a_plan_of_another_day_is_not_accepted() -> None:
    status, out, _ = enter("judge", DAYS / "applesauce.toml", DAYS / "tiny.json")
    assert status == 1
    assert "digest: The plan was made for another day, or the day has changed since." in out


def test_a_day_that_cannot_be_read_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "day.toml"
    path.write_text(TINY.read_text(encoding="utf-8").replace('jar = "pint"', 'jar = "pnt"'), encoding="utf-8")
    status, out, err = enter("plan", path)
    assert (status, out) == (1, "")
    assert err.startswith("Line 44: 'pnt' is not known as jar of [[batch]] 1.\nChoose one of quarter_pint,")
    assert enter("judge", path, DAYS / "tiny.json")[0] == 1


@pytest.mark.parametrize("content", [b"\xff\xfe", b"[kitchen", b""])
def test_other_files_are_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "file"
    path.write_bytes(content)
    for argv in (("plan", path), ("judge", path, DAYS / "tiny.json"), ("judge", TINY, path)):
        status, out, err = enter(*argv)
        assert (status, out) == (1, "")
        assert len(err.splitlines()) == 2


def test_a_file_that_is_missing_or_cannot_be_written_is_refused(tmp_path: Path) -> None:
    missing = tmp_path / "missing.toml"
    assert enter("plan", missing) == (
        1,
        "",
        f"{missing} cannot be read: No such file or directory.\nCheck its name and rights.\n",
    )
    status, out, err = enter("plan", TINY, "--seconds", "0", "--svg", tmp_path / "no" / "folder.svg")
    assert (status, out) == (1, "")
    assert "folder.svg cannot be written: No such file or directory." in err


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (("plan",), "required: DAY.toml"),
        (("plan", "a", "--seconds", "long"), "'long' is not a number of seconds"),
        (("plan", "a", "--seconds", "nan"), "nan is not from 0 to 3600 seconds"),
        (("plan", "a", "--seconds", "-1"), "-1 is not from 0 to 3600 seconds"),
        (("plan", "a", "--seed", "x"), "invalid int value: 'x'"),
        (("judge", "a"), "required: PLAN.json"),
        (("schema", "a"), "unrecognized arguments: a"),
        (("bench", "nights"), "usage: python -m scheduler bench WHAT"),
        (("bench", "days", "--size", "XXL"), "'XXL' is none of S, M, L, XL"),
        (("bench", "days", "--seeds", "0"), "'0' is not a whole number from 1 to 1000"),
    ],
)
def test_wrong_usage_ends_with_status_2(argv: tuple[str, ...], said: str) -> None:
    status, out, err = enter(*argv)
    assert (status, out) == (2, "")
    assert said in err


def test_the_schema_is_printed() -> None:
    status, out, err = enter("schema")
    assert (status, err) == (0, "")
    assert json.loads(out) == schema()


def test_the_bench_sets_rules_ours_and_bounds_side_by_side() -> None:
    status, out, err = enter("bench", "days", "--size", "s", "--seeds", "2", "--seconds", "0.2")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith("S seed 1: 6 batches, 2 canners, ")
    heads = "level first come earliest due longest process first ours bound gap ratio"
    assert " ".join(lines[1].split()) == heads
    assert [line.split("  ")[1] for line in lines[2:8]] == [
        "jars left out",
        "lateness",
        "last jar out",
        "canner time",
        "loads",
        "changeovers",
    ]
    assert lines[-3].startswith("2 days of size S: better than every simple rule on ")
    assert lines[-2].startswith("mean gap of the last jar out: ")
    assert lines[-1].startswith("mean lateness: ")


def test_what_is_measured_is_never_worse_than_a_simple_rule() -> None:
    measured = measure(Size.S, 3, 0.2)
    assert measured.is_never_worse
    assert judge(measured.day, measured.ours) == ()
    assert set(measured.simple) == {"first come", "earliest due", "longest process first"}


def test_the_search_is_made_ready_before_the_first_plan() -> None:
    status, out, err = enter("compile")
    assert (status, err) == (0, "")
    assert out.startswith("The search is ready (")
