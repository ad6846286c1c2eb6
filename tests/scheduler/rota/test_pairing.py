"""Which watches go together: against every way to hold a few of them, and what comes of it in a rota."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from random import Random

import pytest

from scheduler.interval import Span, merge
from scheduler.rota.bearing import is_bearable, work_of
from scheduler.rota.bound import measure
from scheduler.rota.paired import least_shared_minutes, paired
from scheduler.rota.pairing import pair_up
from scheduler.rota.question import Helper, Limits, Question, Seat, unfilled_minutes
from scheduler.rota.solve import draw_up
from scheduler.rota.strain import busy_minutes

LONGEST = 90


def until(start: int) -> int:
    return start + LONGEST


def partitions(numbers: Sequence[int]) -> Iterator[list[list[int]]]:
    """Every way to put numbers into groups."""
    if not numbers:
        yield []
        return
    first, *others = numbers
    for groups in partitions(others):
        yield [[first], *groups]
        for at in range(len(groups)):
            yield [*groups[:at], [first, *groups[at]], *groups[at + 1 :]]


def is_block(spans: Sequence[Span], together: int) -> bool:
    """True when one person could hold these without a moment in between and without being too long at it."""
    whole = merge(spans)
    if len(whole) > 1 or any(
        sum(one.start <= minute < one.end for one in spans) > together
        for minute in {one.start for one in spans}
    ):
        return False
    return whole[0].minutes <= LONGEST or whole[0] in spans


def some(seed: int) -> list[Span]:
    random = Random(f"watches {seed}")  # noqa: S311 - a repeatable question, not a secret.
    starts = [random.randrange(0, 100, 5) for _ in range(random.randint(1, 7))]
    return [Span(start, start + random.randrange(10, 130, 5)) for start in starts]


@pytest.mark.parametrize("together", [2, 3])
def test_no_way_to_hold_a_few_watches_takes_less_than_is_proven(together: int) -> None:
    ours = best = proven = 0
    for seed in range(60):
        spans = some(seed)
        pairing = pair_up(spans, together, until)
        assert sorted(number for block in pairing.blocks for number in block) == list(range(len(spans)))
        groups = [[spans[number] for number in block] for block in pairing.blocks]
        assert all(is_block(group, together) for group in groups)
        least = min(
            sum(merge([spans[number] for number in group])[0].minutes for group in partition)
            for partition in partitions(range(len(spans)))
            if all(is_block([spans[number] for number in group], together) for group in partition)
        )
        taken = sum(merge(group)[0].minutes for group in groups)
        assert pairing.least_minutes <= least <= taken
        ours, best, proven = ours + taken, best + least, proven + pairing.least_minutes
    assert ours <= 1.01 * best
    assert proven >= 0.99 * best


def test_more_people_than_can_be_spared_are_dearer_than_a_few_minutes() -> None:
    spans = [Span(40, 80), Span(20, 50), Span(10, 30), Span(20, 70)]
    scarce = Span(30, 40)

    def people(blocks: Sequence[Sequence[int]]) -> int:
        return sum(merge(spans[number] for number in block)[0].holds(scarce) for block in blocks)

    fewest_minutes = pair_up(spans, 2, until)
    spared = pair_up(spans, 2, until, lambda moment: 1 if moment == scarce else len(spans))
    assert people(fewest_minutes.blocks) == 2
    assert people(spared.blocks) == 1


def crowded(people: int) -> Question:
    """Two canners after another all day, watched by people who rest a quarter of an hour in every three."""
    seats = [
        Seat(
            id=f"watch {line} {start}",
            place="canner",
            start=start,
            end=start + 50,
            able=frozenset(range(people)),
            shared=True,
        )
        for line in range(4)
        for start in range(line * 13, 600, 55)
    ]
    limits = Limits(break_minutes=15, break_every_minutes=180, rest_minutes=600)
    helpers = tuple(Helper(id=f"helper {number}", hours=(Span(0, 700),)) for number in range(people))
    return Question(helpers=helpers, seats=tuple(seats), limits=limits, shared_limit=2)


def test_a_rota_with_many_watches_comes_near_the_fewest_minutes_they_take() -> None:
    question = crowded(5)
    nobody = tuple(None for _ in question.seats)
    first = paired(question, nobody)
    assert None not in first
    drawn = draw_up(question, nobody, nobody, tries=60_000, seed=1)
    assert None not in drawn
    assert all(is_bearable(question, drawn, person) for person in range(5))
    worked = sum(busy_minutes(work_of(question, drawn, person)) for person in range(5))
    assert least_shared_minutes(question) <= worked <= 1.03 * least_shared_minutes(question)
    assert measure(question, drawn).gap <= 0.04


@pytest.mark.parametrize(("seed", "unfilled"), [(1, 20), (2, 30)])
def test_blocks_of_watches_leave_people_for_other_work_in_a_day_that_is_too_full(
    seed: int, unfilled: int
) -> None:
    random = Random(seed)  # noqa: S311
    watched = crowded(4)
    others = []
    for number in range(12):
        start = random.randrange(0, 560, 10)
        end = start + random.choice((20, 30, 40, 60))
        others.append(Seat(id=f"prep {number}", place="prep", start=start, end=end, able=frozenset(range(4))))
    question = replace(watched, seats=(*watched.seats, *others))
    nobody = tuple(None for _ in question.seats)
    drawn = draw_up(question, nobody, nobody, tries=60_000, seed=1)
    assert all(is_bearable(question, drawn, person) for person in range(4))
    assert all(holder is not None for seat, holder in zip(question.seats, drawn, strict=True) if seat.shared)
    assert unfilled_minutes(question, drawn) <= unfilled


def test_a_watch_that_somebody_is_put_at_stays_theirs() -> None:
    question = crowded(5)
    pinned = Question(
        helpers=question.helpers,
        seats=question.seats,
        limits=question.limits,
        shared_limit=2,
        pinned=((3, 4),),
    )
    first = (None,) * 3 + (4,) + (None,) * (len(question.seats) - 4)
    assert paired(pinned, first)[3] == 4
