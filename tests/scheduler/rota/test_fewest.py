"""How few people can take all seats: read, solved, held against every way there is, and looked at again."""

from __future__ import annotations

import io
import itertools
import json
import time
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from scheduler.__main__ import main
from scheduler.errors import BadRota
from scheduler.rota.fewest import fewest_people
from scheduler.rota.fewest_check import faults_of
from scheduler.rota.question import Helper, Question, Seat
from scheduler.staffing_file import read_staffing_file

# Made up: three tasks, two of them at once; the first person may do all but can do only two of them.
INSTANCE = """# a comment
Type = 1
Jobs = 3
0 10
10 20
5 15
Qualifications = 3
3: 0 1 2
1: 2
2: 0 1
"""


def written(folder: Path, text: str = INSTANCE) -> Path:
    path = folder / "small.dat"
    path.write_text(text, encoding="utf-8")
    return path


def tiny(seed: int) -> Question:
    """Four people and up to seven seats, each of which somebody may take."""
    random = Random(f"fewest {seed}")  # noqa: S311 - a repeatable question, not a secret.
    seats = []
    for number in range(random.randint(2, 7)):
        start = random.randrange(20)
        able = frozenset(random.sample(range(4), random.randint(1, 4)))
        seats.append(
            Seat(id=str(number), place="a", start=start, end=start + random.randint(1, 9), able=able)
        )
    return Question(helpers=tuple(Helper(id=name) for name in "abcd"), seats=tuple(seats))


def fewest_of_all(question: Question) -> int | None:
    ways = itertools.product(*(sorted(seat.able) for seat in question.seats))
    counts = [len(set(way)) for way in ways if not list(faults_of(question, way, len(set(way))))]
    return min(counts, default=None)


@pytest.mark.parametrize("seed", range(40))
def test_nobody_could_be_spared(seed: int) -> None:
    question, least = tiny(seed), fewest_of_all(tiny(seed))
    if least is None:
        with pytest.raises(BadRota, match="No way was found"):
            fewest_people(question, seconds=1.5, seed=1, workers=1, clock=time.monotonic)
        return
    found = fewest_people(question, seconds=1.5, seed=1, workers=1, clock=time.monotonic)
    assert list(faults_of(question, found.taken, found.people)) == []
    assert found.bound <= found.people == least


def test_an_instance_is_read(tmp_path: Path) -> None:
    question = read_staffing_file(written(tmp_path))
    assert [(seat.start, seat.end, sorted(seat.able)) for seat in question.seats] == [
        (0, 10, [0, 2]),
        (10, 20, [0, 2]),
        (5, 15, [0, 1]),
    ]
    assert len(question.helpers) == 3


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("Jobs = 3", "Jobs = three", "line 3: Here Jobs = and a number was expected"),
        ("10 20", "20 20", "line 5: This is no task"),
        ("10 20", "10 x", "line 5: '10 x' is not made of whole numbers"),
        ("1: 2", "2: 2", "line 9: This does not list the tasks"),
        ("1: 2", "1: 3", "line 9: This does not list the tasks"),
        ("2: 0 1\n", "", "line 10: The file ends here"),
    ],
)
def test_what_is_wrong_is_refused_with_its_line(tmp_path: Path, old: str, new: str, told: str) -> None:
    with pytest.raises(BadRota, match=told):
        read_staffing_file(written(tmp_path, INSTANCE.replace(old, new)))


@pytest.mark.parametrize(
    ("taken", "people", "told"),
    [
        ((2, 2), 1, "2 seats are answered for, of 3"),
        ((2, None, 1), 2, "nobody takes task 1"),
        ((2, 1, 1), 2, "task 1 is taken by 1, who may not"),
        ((0, 2, 0), 2, "0 takes task 0 and task 2 at the same time"),
        ((2, 2, 1), 1, "2 people are used, not 1"),
    ],
)
def test_a_wrong_answer_is_caught(
    tmp_path: Path, taken: tuple[int | None, ...], people: int, told: str
) -> None:
    question = read_staffing_file(written(tmp_path))
    assert list(faults_of(question, (2, 2, 1), 2)) == []
    assert told in list(faults_of(question, taken, people))


def test_measuring_prints_each_instance_and_writes_the_answers(tmp_path: Path) -> None:
    written(tmp_path)
    (tmp_path / "best_known.csv").write_text("file,best_known\nsmall.dat,2\n", encoding="utf-8")
    out, err = io.StringIO(), io.StringIO()
    arguments = ["bench", "staffing", str(tmp_path), "--seconds", "1", "--out", str(tmp_path / "answers")]
    assert main(arguments, out, err) == 0
    assert "ratio 1.0000" in out.getvalue()
    assert out.getvalue().endswith(
        "1 instances, 1 proved; mean ratio to best known 1.0000, at most 0 people above it\n"
    )
    answer = json.loads((tmp_path / "answers" / "small.json").read_text(encoding="utf-8"))
    assert answer["people"] == 2
    assert (
        list(faults_of(read_staffing_file(tmp_path / "small.dat"), tuple(answer["person_of_task"]), 2)) == []
    )


def test_a_folder_without_instances_is_refused(tmp_path: Path) -> None:
    err = io.StringIO()
    assert main(["bench", "staffing", str(tmp_path)], io.StringIO(), err) != 0
    assert "holds no instance" in err.getvalue()


def test_a_seat_that_ends_before_it_starts_is_refused() -> None:
    question = tiny(1)
    with pytest.raises(BadRota, match="ends before it starts"):
        replace(question, seats=(replace(question.seats[0], end=question.seats[0].start),))
