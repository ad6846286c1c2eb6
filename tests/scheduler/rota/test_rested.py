"""Hours with rests taken out: whoever works all of them keeps every limit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.generator import random_day
from scheduler.interval import Span, covered
from scheduler.problem import Person, Policy, StationKind
from scheduler.rota.of_plan import limits_of
from scheduler.rota.rested import able, rested
from scheduler.rota.strain import Work, faults

DAY = random_day(1, "S")

HOURS = st.builds(
    lambda start, minutes: (Span(start, start + minutes),), st.integers(0, 600), st.integers(1, 900)
)
POLICIES = st.builds(
    Policy,
    break_minutes=st.integers(5, 60),
    break_every_minutes=st.integers(60, 360),
    meal_minutes=st.integers(10, 120),
    meal_after_minutes=st.integers(120, 480),
    longest_shift_minutes=st.integers(120, 960),
    rest_minutes=st.integers(480, 1440),
)


@given(HOURS, POLICIES, st.one_of(st.none(), st.integers(60, 600)), st.booleans())
def test_who_works_all_the_rested_hours_is_never_asked_too_much(
    hours: tuple[Span, ...], policy: Policy, most: int | None, two_days: bool
) -> None:
    if two_days:
        hours = (*hours, Span(hours[0].start + 1440, hours[0].end + 1440))
    people = tuple(Person(id=name, name=name, hours=hours, most_minutes=most) for name in "abc")
    day = replace(DAY, people=people, policy=policy, opening=(Span(0, 3000),))
    for person in rested(day).people:
        work = [Work(span.start, span.end, "prep") for span in person.hours]
        assert faults(work, limits_of(day), most) == ()
        assert all(covered(span, hours) for span in person.hours)


def test_hours_that_need_no_rest_stay_whole() -> None:
    person = Person(id="a", name="A", hours=(Span(420, 600),))
    assert rested(replace(DAY, people=(person,))).people[0].hours == person.hours


def test_people_who_come_together_are_there_together() -> None:
    people = (
        Person(id="a", name="A", hours=(Span(420, 600),), comes_with="b"),
        Person(id="b", name="B", hours=(Span(500, 700),)),
    )
    assert able(replace(DAY, people=people)).people[0].hours == (Span(500, 600),)


@pytest.mark.parametrize("listed", [True, False])
def test_a_station_has_no_more_hands_than_there_are_people_for_it(listed: bool) -> None:
    people = (
        Person(id="a", name="A", hours=(Span(420, 600),)),
        Person(id="b", name="B", hours=(Span(420, 600),), cannot=frozenset({StationKind.FILL})),
    )
    stations = DAY.stations if listed else ()
    fill = next(
        one
        for one in able(replace(DAY, people=people, stations=stations)).stations
        if one.kind is StationKind.FILL
    )
    assert {(hands.span, hands.count) for hands in fill.hands} == {(Span(420, 600), 1)}
