"""``python -m scheduler rota``: what it reads, prints, writes and refuses."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from scheduler.__main__ import main
from scheduler.caution import CAUTION
from scheduler.day_file import read_day
from scheduler.day_writing import day_toml
from scheduler.judge import judge
from scheduler.plan_file import plan_json, read_plan
from scheduler.problem import Person
from tests.factories.days import OPENING, PEOPLE, make_day, make_plan

# As a file says it, the day's minutes count from midnight.
DAY = make_day(people=(*PEOPLE, Person(id="eva", name="Eva Stone", hours=(OPENING,), trained=True)))


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """The small day and its plan as files."""
    day, plan = tmp_path / "day.toml", tmp_path / "plan.json"
    day.write_text(day_toml(DAY), encoding="utf-8")
    plan.write_text(plan_json(make_plan(DAY), DAY), encoding="utf-8")
    return day, plan


def enter(*argv: str | Path) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    status = main(["rota", *map(str, argv)], out, err)
    return status, out.getvalue(), err.getvalue()


def test_the_rota_is_printed_with_who_is_kept_how_fair_it_is_and_what_changes(
    files: tuple[Path, Path], tmp_path: Path
) -> None:
    again = tmp_path / "again.json"
    status, out, err = enter(*files, "--keep", "L2-watch=Eva Stone", "--seconds", "0.1", "--json", again)
    assert (status, err) == (0, "")
    assert "Eva Stone, " in out
    assert "watch 8 pint tomato juice (L2-watch, kept)" in out
    assert "Spread of work: " in out
    assert "with what is kept no rota is below" in out
    assert "Eva Stone: now watches Big Blue from 03:30" in out
    assert " ".join(out.split()).endswith(CAUTION)
    drawn = read_plan(again.read_text(encoding="utf-8"))
    assert judge(read_day(files[0].read_text(encoding="utf-8")), drawn) == ()
    assert [one.person_id for one in drawn.assignments if one.task_id == "L2-watch"] == ["eva"]


def test_the_rota_by_station_names_people_where_they_are(files: tuple[Path, Path]) -> None:
    status, out, _ = enter(*files, "--by", "station", "--seconds", "0")
    assert status == 0
    stations = out.split("HOW FAIR")[0]
    assert "Canners\n  03:00 to 03:52 Ada Brook: watch 7 quart snap beans (L1-watch)" in stations
    assert "Kettles\n  02:50 to 03:15 Cleo Marsh: kettle" in stations
    assert "Nothing changes for anybody." in out


def test_what_cannot_be_kept_is_refused_and_nothing_is_written(
    files: tuple[Path, Path], tmp_path: Path
) -> None:
    again = tmp_path / "again.json"
    status, out, err = enter(*files, "--keep", "L2-watch=ben", "--json", again)
    assert (status, out) == (1, "")
    assert err.startswith("Ben Ruiz cannot be kept at watch for load 1 of Big Blue, 03:30 to 04:30")
    assert "Keep another person there" in err
    assert not again.exists()


@pytest.mark.parametrize("keep", ["L2-watch", "=ben", "L2-watch="])
def test_half_a_pin_is_wrong_usage(files: tuple[Path, Path], keep: str) -> None:
    status, _, err = enter(*files, "--keep", keep)
    assert status == 2
    assert "is not TASK=PERSON" in err
