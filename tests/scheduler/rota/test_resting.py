"""Rests in the gaps of a rota: the work stays possible, and whoever works all the hours keeps every limit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.generator import random_day
from scheduler.interval import Span, covered, subtract
from scheduler.problem import Day, Person, Policy
from scheduler.rota.of_plan import limits_of
from scheduler.rota.rested import rested
from scheduler.rota.resting import resting_around
from scheduler.rota.strain import Work, faults

DAY = random_day(1, "S")
HOURS = (Span(420, 1020),)


def of_one(hours: tuple[Span, ...], policy: Policy | None = None, **said: int) -> Day:
    """A day with one person."""
    person = Person(id="a", name="A", hours=hours, most_minutes=said.get("most_minutes"))
    return replace(DAY, people=(person,), policy=policy or Policy())


PIECES = st.lists(st.tuples(st.integers(420, 1000), st.integers(5, 120)), max_size=8)


@given(PIECES, st.integers(60, 300), st.integers(120, 480), st.integers(240, 720))
def test_work_that_can_be_borne_stays_possible_and_all_the_hours_can(
    pieces: list[tuple[int, int]], every: int, meal_after: int, longest: int
) -> None:
    policy = Policy(break_every_minutes=every, meal_after_minutes=meal_after, longest_shift_minutes=longest)
    day = of_one(HOURS, policy)
    work = [Work(start, min(start + minutes, 1020), "prep") for start, minutes in pieces]
    (person,) = resting_around(day, [work], 0).people
    assert faults([Work(span.start, span.end, "") for span in person.hours], limits_of(day)) == ()
    assert all(covered(span, HOURS) for span in person.hours)
    if person.hours != rested(day).people[0].hours:
        assert all(covered(Span(one.start, one.end), person.hours) for one in work)


@pytest.mark.parametrize(
    ("work", "rests"),
    [
        # The rest comes as late as may be where there is a gap: 180 minutes after 7:00, and a meal in the second.
        ([Work(420, 590, "prep")], [Span(600, 615), Span(720, 750), Span(930, 945)]),
        ([Work(420, 560, "prep"), Work(575, 700, "prep")], [Span(560, 575), Span(720, 750), Span(930, 945)]),
    ],
)
def test_rests_lie_in_the_gaps(work: list[Work], rests: list[Span]) -> None:
    (person,) = resting_around(of_one(HOURS), [work], 0).people
    assert list(subtract(HOURS, person.hours)) == rests


def test_a_shift_is_cut_around_the_work() -> None:
    day = of_one((Span(420, 1260),))
    (person,) = resting_around(day, [[Work(900, 960, "fill")]], 0).people
    assert (person.hours[0].start, person.hours[-1].end) == (540, 1260)


def test_where_the_work_leaves_no_gap_rests_are_as_usual() -> None:
    day = of_one(HOURS)
    too_much = [Work(420, 800, "prep")]
    assert resting_around(day, [too_much], 0) == rested(day)


def test_who_offered_less_than_the_hours_rests_as_usual() -> None:
    day = of_one(HOURS, most_minutes=240)
    assert resting_around(day, [[Work(420, 480, "prep")]], 0) == rested(day)
