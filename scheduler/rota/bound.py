"""How even the work of a rota could be at best, and how much nobody could fill: proven by a flow of minutes.

The relaxed rota lets anybody change seats at any minute and forgets rests, ways and hand-overs: what it cannot do no
rota can. People watching several canners at once are counted as few as the kitchen allows; what watches take beyond
that, because they do not begin and end together, is proven by ``pairing`` and may be anybody's at any time.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from ortools.graph.python import min_cost_flow

from scheduler.interval import Span
from scheduler.rota.bearing import work_of
from scheduler.rota.paired import least_shared_minutes, shares
from scheduler.rota.question import Question, Taken, unfilled_minutes
from scheduler.rota.strain import busy_minutes

_STEP_MINUTES = 2
"""The square of somebody's minutes is taken from below in steps of so many: coarser is faster and less close."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A rota against what is proven: minutes that nobody fills, and the root mean square of people's minutes.

    The root mean square is least when the work is spread evenly; what somebody carries from days before counts with it.
    """

    unfilled_minutes: int
    unfilled_bound: int
    spread_minutes: float
    spread_bound: float

    @property
    def gap(self) -> float:
        """How far the spread lies above its bound, as a share of it."""
        return 0.0 if not self.spread_minutes else max(0.0, 1 - self.spread_bound / self.spread_minutes)


def measure(question: Question, taken: Taken) -> Measured:
    """A rota and its bounds. A bound on the spread holds for rotas that leave no more unfilled than the least."""
    worked = [
        helper.carried_minutes + busy_minutes(work_of(question, taken, person))
        for person, helper in enumerate(question.helpers)
    ]
    unfilled_bound, squares = _relaxed(question)
    people = max(1, len(question.helpers))
    return Measured(
        unfilled_minutes=unfilled_minutes(question, taken),
        unfilled_bound=unfilled_bound,
        spread_minutes=math.sqrt(sum(one * one for one in worked) / people),
        spread_bound=math.sqrt(squares / people),
    )


@dataclass(frozen=True, slots=True)
class _Demand:
    """Minutes of work between two minutes that any of these people could do."""

    span: Span
    able: frozenset[int]
    people: int
    shared: bool


def _relaxed(question: Question) -> tuple[int, int]:
    """The least unfilled minutes, and the least sum of squares of people's minutes with that."""
    demands = list(_demands(question))
    unfilled, squares = _flow(question, demands, frozenset(), 0)
    if unfilled or not shares(question):
        return unfilled, squares
    watchers = frozenset[int]().union(*(seat.able for seat in question.seats if seat.shared))
    counted = sum(one.span.minutes * one.people for one in demands if one.shared)
    beyond = max(0, least_shared_minutes(question) - counted)
    return _flow(question, demands, watchers, beyond) if beyond else (unfilled, squares)


def _flow(
    question: Question, demands: Sequence[_Demand], watchers: frozenset[int], beyond: int
) -> tuple[int, int]:
    """The same for these demands, with so many minutes more that any of the ``watchers`` works at any time."""
    wanted = sum(one.span.minutes * one.people for one in demands) + beyond
    carried = [helper.carried_minutes for helper in question.helpers]
    flow = min_cost_flow.SimpleMinCostFlow()
    sink, number = 0, len(question.helpers) + 1
    done_by: Counter[int] = Counter()
    source = number
    number += 1
    for span, group in _by_span(demands):
        here = {
            person: number + at for at, person in enumerate(sorted({p for one in group for p in one.able}))
        }
        number += len(here)
        for person, node in here.items():
            flow.add_arc_with_capacity_and_unit_cost(node, person + 1, span.minutes, 0)
            done_by[person] += span.minutes
        for one in group:
            flow.add_arc_with_capacity_and_unit_cost(source, number, span.minutes * one.people, 0)
            for person in one.able:
                flow.add_arc_with_capacity_and_unit_cost(number, here[person], span.minutes, 0)
            number += 1
    flow.add_arc_with_capacity_and_unit_cost(source, number, beyond, 0)
    for person in watchers:
        flow.add_arc_with_capacity_and_unit_cost(number, person + 1, beyond, 0)
        done_by[person] += beyond
    for person, most in done_by.items():
        for step in range(0, most, _STEP_MINUTES):
            cost = 2 * (carried[person] + step) + 1
            flow.add_arc_with_capacity_and_unit_cost(person + 1, sink, min(_STEP_MINUTES, most - step), cost)
    flow.set_node_supply(source, wanted)
    flow.set_node_supply(sink, -wanted)
    if flow.solve_max_flow_with_min_cost() != flow.OPTIMAL:
        return 0, 0  # Nothing is proven then.
    return wanted - flow.maximum_flow(), sum(one * one for one in carried) + flow.optimal_cost()


def _by_span(demands: Sequence[_Demand]) -> Iterator[tuple[Span, list[_Demand]]]:
    groups: dict[Span, list[_Demand]] = {}
    for one in demands:
        groups.setdefault(one.span, []).append(one)
    yield from groups.items()


def _demands(question: Question) -> Iterator[_Demand]:
    seats = [seat for seat in question.seats if not seat.optional]
    hours = [helper.hours for helper in question.helpers]
    edges = {edge for seat in seats for edge in (seat.start, seat.end)}
    edges |= {edge for spans in hours if spans for span in spans for edge in (span.start, span.end)}
    for start, end in pairwise(sorted(edges)):
        moment = Span(start, end)
        present = frozenset(
            person
            for person, spans in enumerate(hours)
            if spans is None or any(span.holds(moment) for span in spans)
        )
        running = [seat for seat in seats if seat.start <= start and end <= seat.end]
        single = Counter(seat.able & present for seat in running if not seat.shared)
        shared = Counter(seat.able & present for seat in running if seat.shared)
        for able, people in single.items():
            yield _Demand(moment, able, people, shared=False)
        for able, people in _sharing(shared, question.shared_limit):
            yield _Demand(moment, able, people, shared=True)


def _sharing(counted: Mapping[frozenset[int], int], together: int) -> Iterator[tuple[frozenset[int], int]]:
    """How many people of which able ones are needed at least for seats that one person may hold so many of.

    Whoever holds a seat that few may take has room for others that they may take as well. Where those who are able
    overlap without one group lying in the other, only all of them together are counted.
    """
    if together > 1 and not all(
        one <= other or other <= one or not one & other for one, other in combinations(counted, 2)
    ):
        counted = {frozenset().union(*counted): sum(counted.values())}
    room: dict[frozenset[int], int] = {}
    for able, count in sorted(counted.items(), key=lambda pair: len(pair[0])):
        spare = sum(room.pop(one) for one in [one for one in room if one <= able])
        people = max(0, math.ceil((count - spare) / together))
        if able:
            room[able] = spare + people * together - count
        if people:
            yield able, people
