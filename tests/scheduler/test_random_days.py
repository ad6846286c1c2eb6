"""A thousand made-up days, planned and judged: no rule broken, no simple rule better."""

from __future__ import annotations

import time
from dataclasses import replace
from random import Random

import pytest

from scheduler.canner import Canner
from scheduler.generator import random_day
from scheduler.judge import judge
from scheduler.pace import Pace
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.search.decode import Decoder
from scheduler.search.improve import simple_orders
from scheduler.search.options import options_of

DAYS_A_TEST = 50
# An effort of so many nominal seconds is some hundred tries beyond the simple rules: enough to move loads about.
SECONDS = 0.02


def odd_day(seed: int) -> Day:
    """A small made-up day with policies, people, cut-offs and learned times away from their defaults."""
    random = Random(seed)  # noqa: S311 - made-up days need repeatable numbers, not secret ones.
    day = random_day(seed, "S")
    policy = replace(
        day.policy,
        share_under_longest=random.random() < 0.5,
        canners_per_person=random.choice([1, 2, 3]),
        cooling_stand_minutes=random.choice([720, 1440]),
        cool_down_minutes=random.choice([20, 40, 60]),
        meat_cut_off=random.choice([None, 900]),
        fill_hands=random.choice([1, 2, 3]),
        prep_hands=random.choice([1, 2, 4]),
    )
    people = tuple(replace(person, under_16=random.random() < 0.2) for person in day.people)
    stations = day.stations if random.random() < 0.5 else ()
    policy = replace(policy, fill_pace=random.uniform(0.5, 2.0))
    canners = tuple(learned(canner, random) for canner in day.canners)
    return replace(day, policy=policy, people=people, stations=stations, canners=canners)


def learned(canner: Canner, random: Random) -> Canner:
    """The canner, half the time with a pace of its own."""
    if random.random() < 0.5:
        return canner
    heat_up, pressure_up, cool_down = (random.uniform(0.5, 2.0) for _ in range(3))
    if not canner.kind.is_pressure:
        return replace(canner, pace=Pace(heat_up=heat_up))
    return replace(canner, pace=Pace(heat_up=heat_up, pressure_up=pressure_up, cool_down=cool_down))


@pytest.mark.parametrize("first", range(0, 1000, DAYS_A_TEST))
def test_no_rule_is_broken(first: int) -> None:
    for seed in range(first, first + DAYS_A_TEST):
        day = odd_day(seed)
        answer = plan(day, seconds=SECONDS, seed=seed, clock=lambda: 0.0)
        assert judge(day, answer) == (), seed


@pytest.mark.parametrize("seed", range(1, 6))
def test_no_simple_rule_is_better(seed: int) -> None:
    day = random_day(seed, "S")
    options = options_of(day)
    decoder = Decoder(day, options)
    longest = [min((option.family[2] for option in row), default=0) for row in options.by_batch]
    answer = plan(day, seconds=0.5, seed=1, clock=time.monotonic)
    ours = tuple(level.value for level in answer.levels)
    assert all(ours <= decoder.decode(order).score for order in simple_orders(day, longest).values())
