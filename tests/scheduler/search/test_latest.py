"""What the last batches to come rule out, against days made by hand and the days that the planner finds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.generator import random_day
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.search.bounds import bounds_of, impossible, ready_minutes
from scheduler.search.latest import least_out_of_last
from scheduler.search.options import options_of
from scheduler.search.relaxed import Relaxed


def relaxed(day: Day) -> Relaxed:
    options = options_of(day)
    ready = [ready_minutes(day, number) for number in range(len(day.batches))]
    return Relaxed(day, options, ready, impossible(day, options), lambda: 60.0)


@pytest.mark.parametrize("seed", [1, 6])
def test_it_proves_more_than_the_quick_bounds_and_no_plan_beats_it(seed: int) -> None:
    day = random_day(seed, "M")
    quick = bounds_of(day, options_of(day), 0)[2].value
    out, name = least_out_of_last(relaxed(day), quick)
    assert out > quick
    assert name.startswith("the last batches to come: batch-")
    late = tuple(batch for batch in day.batches if batch.id in name.split(": ")[1].split(", "))
    alone = replace(day, batches=tuple(replace(batch, pickup=day.horizon) for batch in late))
    planned = plan(alone, seconds=1.0, seed=1, clock=lambda: 0.0, prove=False)
    assert planned.levels[0].value == 0
    assert planned.levels[2].value >= out


def test_canners_on_one_burner_take_turns() -> None:
    day = random_day(1, "M")
    burner = day.canners[0].burner_id
    row = options_of(day).by_batch[0]
    batch = replace(day.batches[0], arrival=day.opening[0].start, jars=max(one.jars for one in row))
    day = replace(
        day,
        canners=tuple(replace(one, burner_id=burner) for one in day.canners),
        batches=tuple(replace(batch, id=f"batch-{number}") for number in range(3)),
    )
    shortest = min(one.minutes for one in options_of(day).by_batch[0])
    out, name = least_out_of_last(relaxed(day), 0)
    assert out >= ready_minutes(day, 0) + 3 * shortest
    assert name == "the last batches to come: batch-0, batch-1, batch-2"


def test_a_bound_that_is_known_already_is_not_lost() -> None:
    day = random_day(1, "S")
    assert least_out_of_last(relaxed(day), day.horizon) == (day.horizon, "")
