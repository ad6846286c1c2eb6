"""The core forms loads of a kitchen's day, and what it forms is a good beginning."""

from __future__ import annotations

from dataclasses import replace

from scheduler.generator import random_day
from scheduler.search.decode import Decoder
from scheduler.search.forming import formed_order
from scheduler.search.improve import simple_orders
from scheduler.search.options import options_of


def test_formed_loads_mostly_make_a_better_day_than_any_simple_rule() -> None:
    better = 0
    for seed in range(1, 7):
        day = random_day(seed, "M")
        decoder = Decoder(day, options_of(day))
        formed = decoder.decode(formed_order(day, decoder.options, 1)).score
        longest = [min(option.family[2] for option in row) for row in decoder.options.by_batch]
        better += formed < min(decoder.decode(order).score for order in simple_orders(day, longest).values())
    assert better >= 4


def test_every_batch_that_can_be_canned_has_its_turns_and_the_same_seed_gives_them_again() -> None:
    day = random_day(4, "M")
    options = options_of(day)
    order = formed_order(day, options, 7)
    assert {batch for batch, _ in order} == set(range(len(day.batches)))
    for batch, canner in order:
        assert canner is None or canner in {option.canner for option in options.by_batch[batch]}
    assert formed_order(day, options, 7) == order


def test_a_day_that_no_canner_can_do_has_no_order_but_is_no_error() -> None:
    day = random_day(1, "S")
    late = tuple(replace(batch, arrival=day.horizon - 2, pickup=day.horizon + 60) for batch in day.batches)
    day = replace(day, batches=late)
    assert formed_order(day, options_of(day), 1) == []
    day = replace(day, batches=())
    assert formed_order(day, options_of(day), 1) == []
