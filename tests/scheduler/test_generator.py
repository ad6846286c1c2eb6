"""Made-up days are the same for a seed, of the size they say, and without a batch that nobody could can."""

from __future__ import annotations

import pytest

from scheduler.canner_kind import CannerKind
from scheduler.digest import day_digest
from scheduler.errors import NoPublishedProcess
from scheduler.generator import Size, random_day
from scheduler.planner import plan
from scheduler.problem import Batch
from scheduler.process import Process, find_processes
from scheduler.rack import capacity


@pytest.mark.parametrize(
    ("size", "batches", "canners", "days"),
    [("S", 6, 2, 1), ("M", 20, 6, 1), ("L", 60, 12, 1), ("XL", 200, 20, 3)],
)
def test_a_size_is_what_it_says(size: str, batches: int, canners: int, days: int) -> None:
    day = random_day(1, size)
    assert (len(day.batches), len(day.canners), len(day.opening)) == (batches, canners, days)


def test_a_seed_brings_its_day_back_and_another_seed_another() -> None:
    assert random_day(4, Size.M) == random_day(4, "M")
    assert len({day_digest(random_day(seed, Size.S)) for seed in range(20)}) == 20


@pytest.mark.parametrize("size", Size)
def test_every_batch_can_run_on_some_canner(size: Size) -> None:
    for seed in range(3):
        day = random_day(seed, size)
        for batch in day.batches:
            assert any(
                capacity(canner, batch.jar, process_minutes=line.process_minutes)
                for canner in day.canners
                for line in _lines(batch, canner.kind, day.altitude_ft)
            ), f"{batch.food_id} on seed {seed}"


@pytest.mark.parametrize("size", [Size.M, Size.L])
def test_a_kitchen_takes_in_no_more_than_it_can_can(size: Size) -> None:
    for seed in range(1, 3):
        day = random_day(seed, size)
        found = plan(day, seconds=1.0, seed=1, clock=lambda: 0.0)
        assert sum(left.jars for left in found.left_out) == 0, seed


def test_a_canner_may_be_away_for_part_of_the_day() -> None:
    days = [random_day(seed, Size.M) for seed in range(10)]
    away = [canner for day in days for canner in day.canners if canner.service != day.opening]
    assert 0 < len(away) < 30


def _lines(batch: Batch, kind: CannerKind, altitude_ft: float) -> list[Process]:
    try:
        lines = find_processes(batch.food_id, batch.pack, batch.jar, kind, altitude_ft)
    except NoPublishedProcess:
        return []
    return [line for line in lines if line.schedulable()]
