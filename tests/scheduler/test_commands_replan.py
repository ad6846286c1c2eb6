"""``python -m scheduler replan`` and ``bench replan``: what they read, print, write and refuse."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest

from scheduler.__main__ import main
from scheduler.caution import CAUTION
from scheduler.day_file import read_day
from scheduler.floor_file import BadFloorFile, read_floor
from scheduler.judge import judge
from scheduler.plan import Plan
from scheduler.plan_file import read_plan
from scheduler.problem import Day
from tests.factories.days import make_day, make_plan

SAUCE = Path(__file__).parents[2] / "fixtures" / "days" / "applesauce.toml"
HEAD = "load,what,at,note\n"
DAY = make_day()
PLAN = make_plan(DAY)


def enter(*argv: str | Path) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    status = main([str(one) for one in argv], out, err)
    return status, out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def plan_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of the applesauce day."""
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    assert enter("plan", SAUCE, "--seconds", "0.1", "--json", path)[0] == 0
    return path


def under_way(text: str, now: str = "09:10") -> Day:
    """The small day with the floor of a table."""
    return replace(DAY, floor=read_floor(HEAD + text, DAY, PLAN, now))


def test_without_records_everything_ran_as_planned_and_nothing_changes(
    plan_path: Path, tmp_path: Path
) -> None:
    again = tmp_path / "again.json"
    status, out, err = enter("replan", SAUCE, plan_path, "--now", "11:00", "--json", again)
    assert (status, err) == (0, "")
    assert out.startswith("WHAT CHANGES\n\nNothing changes.\n")
    assert " ".join(out.split()).endswith(CAUTION)
    before, after = (read_plan(path.read_text(encoding="utf-8")) for path in (plan_path, again))
    assert {load.id: load.phases for load in after.loads} == {load.id: load.phases for load in before.loads}


def test_a_load_that_was_late_is_told_with_what_follows(plan_path: Path, tmp_path: Path) -> None:
    before = read_plan(plan_path.read_text(encoding="utf-8"))
    first = min(before.loads, key=lambda load: load.phases[0].start)
    records = tmp_path / "records.csv"
    minute = first.phases[0].end + 60
    loaded = f"{minute // 60:02}:{minute % 60:02}"
    records.write_text(f"{HEAD}{first.id},loaded,{loaded},\n", encoding="utf-8")
    status, out, err = enter("replan", SAUCE, plan_path, "--now", "11:00", "--records", records)
    assert (status, err) == (0, "")
    assert f"Under way: {first.jars} jars of Applesauce" in out
    assert "Moved: " in out or "Dropped: " in out


def test_what_is_no_table_and_no_time_is_refused(plan_path: Path, tmp_path: Path) -> None:
    records = tmp_path / "records.csv"
    records.write_text("load,what\n", encoding="utf-8")
    status, _, err = enter("replan", SAUCE, plan_path, "--now", "11:00", "--records", records)
    assert status == 1
    assert err.startswith("Line 1: There is no column at.\nBegin with the line load,what,at,note.")
    assert enter("replan", SAUCE, plan_path, "--now", "noon")[0] == 1
    assert enter("replan", SAUCE, plan_path)[0] == 2


def test_lines_become_the_floor() -> None:
    day = under_way("L1,loaded,09:02,\nL1,steady_steam,09:08,\n")
    assert day.floor is not None
    (begun,) = day.floor.begun
    assert [phase.end for phase in begun.load.phases[:2]] == [182, 188]
    assert {one.task.id for one in day.floor.prepared} == {"L2-prep", "L2-kettle"}


def test_a_load_may_be_held_decided_about_lost_or_not_begun_at_all() -> None:
    held = under_way("L1,held,,Vented too short.\n").floor
    decided = under_way("L1,decided,,Vented too short.\n").floor
    lost = under_way("L1,canner_failed,,the gasket blew\n").floor
    idle = under_way("L1,not_begun,,\n").floor
    assert held is not None
    assert decided is not None
    assert lost is not None
    assert idle is not None
    assert (held.begun[0].load.on_hold, held.begun[0].load.deviation) == (True, "Vented too short.")
    assert (decided.begun[0].load.on_hold, decided.begun[0].settled) == (False, True)
    assert (lost.begun, lost.lost[0].reason) == (
        (),
        "Old Grey failed before the process ended: the gasket blew.",
    )
    assert (idle.begun, idle.lost) == ((), ())


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("L7,loaded,09:00,", "Line 2: The plan has no load 'L7'."),
        ("L1,cooked,09:00,", "Line 2: 'cooked' is nothing that happens to a load."),
        ("L1,loaded,late,", "Line 2: 'late' is not a time."),
        ("L1,held,,", "Line 2: held has no note."),
        ('L1,held,"', "Line 1: This is no CSV: unexpected end of data."),
    ],
)
def test_a_wrong_line_is_named(line: str, message: str) -> None:
    with pytest.raises(BadFloorFile) as refused:
        under_way(f"{line}\n" if not line.endswith('"') else line)
    assert refused.value.message == message
    assert refused.value.remedy


def test_measuring_prints_each_disruption_and_finds_no_fault() -> None:
    status, out, err = enter("bench", "replan", "--size", "M", "--seeds", "1", "--seconds", "0.1")
    assert (status, err) == (0, "")
    assert out.count("0 violations") == 16
    assert "M person gone home: moved " in out


def test_the_written_plan_is_one_for_the_day_with_its_floor(plan_path: Path) -> None:
    day = read_day(SAUCE.read_text(encoding="utf-8"))
    before: Plan = read_plan(plan_path.read_text(encoding="utf-8"))
    floor = read_floor(HEAD, day, before, "11:00")
    assert [one.rule for one in judge(replace(day, floor=floor), before)] == ["digest"]
