"""Room at the canners: no more people watch at once than a listed station has hands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.interval import Span
from scheduler.plan import TaskKind
from scheduler.problem import Day, Hands, Person, Station, StationKind
from scheduler.rota.canner_room import is_crowded, with_watchers
from scheduler.rota.of_plan import OfPlan, rota_of
from scheduler.rota.question import Taken
from scheduler.rota.solve import draw_up
from scheduler.search.decode import Decoder
from scheduler.search.options import options_of
from scheduler.search.staffed import staffed
from tests.factories.days import OPENING, PEOPLE, make_day, make_plan

ADA, *OTHERS = PEOPLE
EVE = Person(id="eve", name="Eve Stone", hours=(OPENING,), trained=True)


def room_for(count: int, span: Span = OPENING) -> Day:
    """The small day with two trained people and so many hands at the canners; its two watches overlap."""
    day = make_day(people=(ADA, *OTHERS, EVE))
    station = Station(kind=StationKind.CANNER, hands=(Hands(span=span, count=count),))
    return replace(day, stations=(*day.stations, station))


def watched_by(day: Day, *people: str) -> tuple[OfPlan, Taken]:
    """The seats of the small plan, with these people at the first and the second watch."""
    plan = make_plan(day)
    rota = rota_of(day, plan.loads, plan.tasks, plan.assignments, hand_overs=False)
    numbers = iter([one.id for one in day.people].index(person) for person in people)
    taken = tuple(
        next(numbers) if seat.shared else person
        for seat, person in zip(rota.question.seats, rota.first, strict=True)
    )
    return rota, taken


@pytest.mark.parametrize(
    ("day", "people", "crowded"),
    [
        (room_for(1), ("ada", "eve"), True),
        (room_for(1), ("ada", "ada"), False),
        (room_for(2), ("ada", "eve"), False),
        (make_day(people=(ADA, *OTHERS, EVE)), ("ada", "eve"), False),
        # Outside the hours that a station lists it has no hands at all.
        (room_for(2, Span(120, 200)), ("ada", "ada"), True),
    ],
    ids=["one too many", "one person for both", "room for two", "no station listed", "no hands any more"],
)
def test_people_who_watch_are_counted_once(day: Day, people: tuple[str, str], crowded: bool) -> None:
    rota, taken = watched_by(day, *people)
    assert is_crowded(day, rota, taken) is crowded


def test_a_watch_is_left_to_whom_the_search_had_counted() -> None:
    """Drawn up freely, even work gives each trained person one watch."""
    day = room_for(1)
    rota, first = watched_by(day, "ada", "ada")
    kept = with_watchers(rota)
    drawn = draw_up(kept.question, first, first, tries=9000, seed=1)
    assert {drawn[n] for n, seat in enumerate(kept.question.seats) if seat.shared} == {0}
    assert [seat.able for seat in kept.question.seats if not seat.shared] == [
        seat.able for seat in rota.question.seats if not seat.shared
    ]


def test_a_load_is_given_up_sooner_than_a_second_person_sent_to_a_full_station() -> None:
    """One person cannot watch both loads on end without a break, and there is no room for two."""
    day = room_for(1)
    decoder = Decoder(day, options_of(day))
    decoded = min(
        (decoder.decode(order) for order in ([(0, None), (1, None)], [(1, None), (0, None)])),
        key=lambda one: one.score,
    )
    strict = replace(day, policy=replace(day.policy, break_every_minutes=60))
    found = staffed(strict, strict, decoded, tries=3000, seed=1)
    watches = [one for one in found.assignments if one.task_id.endswith(TaskKind.WATCH)]
    assert len(watches) == 1
    assert found.given_up
    roomy = replace(strict, stations=make_day().stations)
    assert not staffed(roomy, roomy, decoded, tries=3000, seed=1).given_up
