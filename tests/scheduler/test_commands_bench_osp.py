"""``python -m scheduler bench osp``: instances read, solved, looked at again and written."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from scheduler.__main__ import main
from scheduler.core.check import cost_of, faults_of
from scheduler.core.question import Batch
from scheduler.errors import BadDay
from scheduler.oven_file import read_oven_file

# Made up: two machines, the second shut for a while; three jobs of two attributes.
INSTANCE = """
l=60;
a=2;
setup_costs=[|1,4|3,1|0,0|];
setup_times=[|0,2|2,0
|0,0|];
m=2;
min_cap=[0,0];
max_cap=[5,8];
initState=[1,2];
s=2;
m_a_s=[|0,0|0,30|];
m_a_e=[|0,60|20,60|];
n=3;
eligible_machine=[{1,2},{2},{2,1}];
earliest_start=[0,5,0];
latest_end=[10,20,12];
min_time=[6,8,7];
max_time=[20,20,20];
size=[3,4,2];
attribute=[1,2,1];
upper_bound_integer_objective=500;
mult_factor_total_runtime=2;
mult_factor_finished_toolate=50;
mult_factor_total_setuptimes=0;
mult_factor_total_setupcosts=1;
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "ovens").mkdir()
    (tmp_path / "ovens" / "small.dzn").write_text(INSTANCE, encoding="utf-8")
    return tmp_path


def enter(*argv: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    return main(["bench", "osp", *argv], out, err), out.getvalue(), err.getvalue()


def test_an_instance_is_read_as_it_is_written(folder: Path) -> None:
    oven = read_oven_file(folder / "ovens" / "small.dzn")
    assert oven.normaliser == 500
    assert [len(machine.windows) for machine in oven.question.machines] == [1, 2]
    assert oven.question.jobs[1].minutes == (None, 8)
    assert oven.question.machines[1].family_at_first == 1
    assert oven.question.setup_minutes == ((0, 2), (2, 0))


def test_ratio_bound_and_means_are_printed_and_the_schedule_written(folder: Path, tmp_path: Path) -> None:
    # By hand: jobs 1 and 3 together on machine 1 (7 minutes, set-up 1 to 1), job 2 on machine 2 (8, set-up 2 to 2).
    best = 2 * (7 + 8) + 1 + 1
    known = folder / "best_known.csv"
    known.write_text(f"file,best_known,published_best\novens/small.dzn,{best},{best + 1}\n", encoding="utf-8")
    written = tmp_path / "out"
    status, out, err = enter(str(folder), "--seconds", "1", "--workers", "1", "--out", str(written))
    assert (status, err) == (0, "")
    assert f"objective {best:>10}" in out
    assert "below the published best" in out
    assert out.splitlines()[-1] == "mean ratio to the best known: 1.00000"
    schedule = json.loads((written / "ovens" / "small.json").read_text(encoding="utf-8"))
    assert (schedule["instance"], schedule["objective"]) == ("ovens/small.dzn", best)
    batches = [
        Batch(
            machine=one["machine"] - 1,
            start=one["start"],
            minutes=one["duration"],
            jobs=tuple(number - 1 for number in one["jobs"]),
        )
        for one in schedule["batches"]
    ]
    question = read_oven_file(folder / "ovens" / "small.dzn").question
    assert faults_of(question, batches) == []
    assert cost_of(question, batches) == best


def test_a_folder_without_instances_and_a_broken_file_are_refused_in_words(
    folder: Path, tmp_path: Path
) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    assert enter(str(empty)) == (
        1,
        "",
        f"{empty} holds no instance (*.dzn).\nName the folder that holds them.\n",
    )
    broken = folder / "ovens" / "small.dzn"
    broken.write_text(INSTANCE.replace("max_cap", "cap"), encoding="utf-8")
    with pytest.raises(BadDay, match="has no entry 'max_cap'"):
        read_oven_file(broken)
