"""Every rule of the question has a planted fault that the second look finds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from scheduler.core.check import cost_of, faults_of
from scheduler.core.question import Batch, Job, Machine, Question, Weights
from scheduler.interval import Span


def job(family: int, size: int, release: int, due: int, minutes: tuple[int | None, ...]) -> Job:
    return Job(family=family, size=size, release=release, due=due, minutes=minutes, most_minutes=15)


QUESTION = Question(
    machines=(
        Machine(capacity=(6, 6), windows=(Span(0, 50), Span(60, 100)), family_at_first=0),
        Machine(capacity=(6, 6), windows=(Span(0, 100),), family_at_first=1),
    ),
    jobs=(
        job(0, 3, 0, 12, (10, 10)),
        job(0, 3, 0, 12, (8, 8)),
        job(1, 4, 5, 20, (10, None)),
        job(1, 4, 0, 20, (10, 10)),
    ),
    setup_minutes=((1, 3), (3, 1)),
    setup_cost=((1, 5), (5, 1)),
    weights=Weights(run=2, late=100, tardy=1, setup=3),
)
GOOD = (
    Batch(machine=0, start=1, minutes=10, jobs=(0, 1)),
    Batch(machine=0, start=14, minutes=10, jobs=(2,)),
    Batch(machine=1, start=1, minutes=10, jobs=(3,)),
)


def with_second(start: int = 14, minutes: int = 10, jobs: tuple[int, ...] = (2,)) -> list[Batch]:
    return [GOOD[0], Batch(machine=0, start=start, minutes=minutes, jobs=jobs), GOOD[2]]


def test_a_good_answer_has_no_fault_and_its_cost_is_added_by_hand() -> None:
    assert faults_of(QUESTION, GOOD) == []
    # Runs 30 x 2; job 3 ends at 24, 4 late; set-ups 0-0, 0-1 and 1-1 cost 1 + 5 + 1, three times.
    assert cost_of(QUESTION, GOOD) == 60 + 100 + 4 + 21


@pytest.mark.parametrize(
    ("batches", "fault"),
    [
        (GOOD[:2], "job 4 is in 0 loads"),
        ([*GOOD, replace(GOOD[2], start=30)], "job 4 is in 2 loads"),
        ([replace(GOOD[0], jobs=(0, 1, 3)), GOOD[1]], "mixes families"),
        ([*GOOD[:1], replace(GOOD[1], jobs=(2, 3))], "is too full"),
        ([GOOD[0], replace(GOOD[1], machine=1, start=20), GOOD[2]], "holds a job that may not run there"),
        (with_second(minutes=9), "runs 9, a job needs 10 to 15"),
        (with_second(minutes=16), "runs 16, a job needs 10 to 15"),
        (
            [replace(GOOD[0], start=30), replace(GOOD[1], start=4), GOOD[2]],
            "starts before a job is released at 5",
        ),
        (with_second(start=13), "is not set up in time for its load at 13"),
        (with_second(start=45), "lie in no window"),
        (with_second(start=62), "lie in no window"),
        (with_second(jobs=()), "is empty"),
    ],
)
def test_a_planted_fault_is_found(batches: Sequence[Batch], fault: str) -> None:
    assert any(fault in one for one in faults_of(QUESTION, batches))
