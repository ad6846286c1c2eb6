"""A plan's tasks as seats for people, and seats with people as assignments of the plan.

Work is cut where one person may give it to another: a watch where a phase ends, with ten minutes together (rule S9),
anything else into pieces of at most an hour, and where a first rota changed hands already.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from scheduler.interval import Span, intersect
from scheduler.plan import Assignment, Load, Task, TaskKind
from scheduler.problem import Day, Person, StationKind
from scheduler.rota.naming import STATION_OF, may_do
from scheduler.rota.question import Helper, Limits, Question, Seat, Taken

HAND_OVER_MINUTES = 10
"""How long two people stand together at a canner when one takes the watch over. Common practice, no source."""

_LONGEST_PIECE_MINUTES = 60
# A watch is cut no finer than this: who comes for a moment only is no help.
_LEAST_WATCH_MINUTES = 30

UNPLEASANT = frozenset({TaskKind.CLEANING, TaskKind.PREP})
"""What is shared out fairly by itself: peeling, and cleaning up after meat. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OfPlan:
    """The question, and for each seat the task it is of and which of its hands."""

    question: Question
    first: Taken
    tasks: tuple[tuple[Task, int], ...]


def rota_of(
    day: Day,
    loads: Sequence[Load],
    tasks: Sequence[Task],
    first: Iterable[Assignment],
    *,
    hand_overs: bool = True,
) -> OfPlan:
    """The seats of a plan's tasks, with the people of ``first`` in them, and seats beside a watch for who learns.

    Without ``hand_overs`` a watch is one seat from heat on to heat off.
    """
    numbers = {person.id: number for number, person in enumerate(day.people)}
    by_task: dict[str, list[Assignment]] = {}
    for one in first:
        by_task.setdefault(one.task_id, []).append(one)
    phases = {load.id: load.phases for load in loads}
    seats: list[Seat] = []
    taken: list[int | None] = []
    of: list[tuple[Task, int]] = []
    for task in tasks:
        able = frozenset(number for number, person in enumerate(day.people) if may_do(person, task.kind))
        edges = [phase.end for phase in phases.get(task.load_id, ())] if hand_overs else []
        for hand, row in enumerate(_hands(task, by_task.get(task.id, ()))):
            before: int | None = None
            for span, person_id in _pieces(task, row, edges):
                seats.append(_seat(task, hand, span, able, before))
                taken.append(None if person_id is None else numbers.get(person_id))
                of.append((task, hand))
                before = len(seats) - 1
        learners = frozenset(number for number, person in enumerate(day.people) if may_learn(person))
        if task.kind is TaskKind.WATCH and learners:
            seats.append(_beside(task, learners))
            taken.append(None)
            of.append((task, task.hands))
    question = Question(
        helpers=tuple(_helper(day, person) for person in day.people),
        seats=tuple(seats),
        limits=limits_of(day),
        shared_limit=day.policy.canners_per_person,
    )
    return OfPlan(question=question, first=tuple(taken), tasks=tuple(of))


def may_learn(person: Person) -> bool:
    """True when somebody is to stand beside a trained person at a canner."""
    return (
        person.learning
        and not person.trained
        and not person.under_16
        and StationKind.CANNER not in person.cannot
    )


def limits_of(day: Day) -> Limits:
    """The kitchen's limits as the rota reads them."""
    policy = day.policy
    return Limits(
        break_minutes=policy.break_minutes,
        break_every_minutes=policy.break_every_minutes,
        meal_minutes=policy.meal_minutes,
        meal_after_minutes=policy.meal_after_minutes,
        longest_shift_minutes=policy.longest_shift_minutes,
        rest_minutes=policy.rest_minutes,
        walking_minutes=policy.walking_minutes,
    )


def hours_of(day: Day, person: Person) -> tuple[Span, ...]:
    """When a person is there: for people who come and go together, while both are."""
    return hours_among(day.people, person)


def hours_among(people: Iterable[Person], person: Person) -> tuple[Span, ...]:
    """The same, of these people."""
    if person.comes_with is None:
        return person.hours
    other = next(one for one in people if one.id == person.comes_with)
    return intersect(person.hours, other.hours)


def assignments_of(plan: OfPlan, people: Sequence[Person], taken: Taken) -> tuple[Assignment, ...]:
    """Who is at which task from when to when; pieces that one person goes on with are one."""
    pieces: dict[tuple[str, int, str], list[Span]] = {}
    seats = plan.question.seats
    for number, seat in enumerate(seats):
        holder = taken[number]
        if holder is None:
            continue
        task, hand = plan.tasks[number]
        start = seat.start
        if seat.follows is not None and taken[seat.follows] not in (None, holder):
            start -= seat.overlap
        pieces.setdefault((task.id, hand, people[holder].id), []).append(Span(start, seat.end))
    named = [
        Assignment(task_id=task_id, person_id=person_id, start=span.start, end=span.end)
        for (task_id, _, person_id), spans in pieces.items()
        for span in _joined(spans)
    ]
    return tuple(sorted(named, key=lambda one: (one.start, one.task_id, one.person_id)))


def _helper(day: Day, person: Person) -> Helper:
    return Helper(
        id=person.id,
        hours=hours_of(day, person),
        most_minutes=person.most_minutes,
        likes=frozenset(one.value for one in person.likes),
        carried_minutes=person.carried_minutes,
    )


def _seat(task: Task, hand: int, span: Span, able: frozenset[int], before: int | None) -> Seat:
    watch = task.kind is TaskKind.WATCH
    return Seat(
        id=f"{task.id}:{hand + 1}:{span.start}",
        place=STATION_OF[task.kind].value,
        start=span.start,
        end=span.end,
        able=able,
        follows=before,
        overlap=HAND_OVER_MINUTES if watch and before is not None else 0,
        shared=watch,
        unpleasant=task.kind in UNPLEASANT,
    )


def _beside(task: Task, learners: frozenset[int]) -> Seat:
    return Seat(
        id=f"{task.id}:beside",
        place=StationKind.CANNER.value,
        start=task.start,
        end=task.end,
        able=learners,
        optional=True,
    )


Held = tuple[Span, str | None]


def _hands(task: Task, named: Iterable[Assignment]) -> list[list[Held]]:
    """For each pair of hands of a task the times with the person who had them; nobody's hours are gaps."""
    rows: list[list[Held]] = [[] for _ in range(task.hands)]
    for one in sorted(named, key=lambda one: (one.start, one.end, one.person_id)):
        start, end = max(one.start, task.start), min(one.end, task.end)
        row = next((row for row in rows if not row or row[-1][0].end <= start), None)
        if row is not None and start < end:
            row.append((Span(start, end), one.person_id))
    return rows


def _pieces(task: Task, row: Sequence[Held], edges: Iterable[int]) -> Iterator[Held]:
    if task.kind is TaskKind.WATCH:
        person = row[0][1] if row else None
        for span in _watch_pieces(task, sorted(edges)):
            yield span, person
        return
    reached = task.start
    for span, person in row:
        if reached < span.start:
            yield from _cut(Span(reached, span.start), None)
        yield from _cut(span, person)
        reached = span.end
    if reached < task.end:
        yield from _cut(Span(reached, task.end), None)


def _watch_pieces(task: Task, edges: Sequence[int]) -> Iterator[Span]:
    """A watch cut at ends of phases, each piece long enough to be worth coming for."""
    start = task.start
    for edge in edges:
        if edge - start >= _LEAST_WATCH_MINUTES and task.end - edge >= _LEAST_WATCH_MINUTES:
            yield Span(start, edge)
            start = edge
    yield Span(start, task.end)


def _cut(span: Span, person: str | None) -> Iterator[Held]:
    parts = math.ceil(span.minutes / _LONGEST_PIECE_MINUTES)
    cuts = [span.start + span.minutes * number // parts for number in range(parts + 1)]
    for start, end in pairwise(cuts):
        yield Span(start, end), person


def _joined(spans: Sequence[Span]) -> list[Span]:
    joined: list[Span] = []
    for span in sorted(spans):
        if joined and span.start <= joined[-1].end:
            joined[-1] = Span(joined[-1].start, max(joined[-1].end, span.end))
        else:
            joined.append(span)
    return joined


def unfilled(plan: OfPlan, taken: Taken) -> Mapping[str, int]:
    """The minutes of each load's seats that nobody holds, optional ones aside."""
    found: dict[str, int] = {}
    for number, seat in enumerate(plan.question.seats):
        if taken[number] is None and not seat.optional:
            load_id = plan.tasks[number][0].load_id
            found[load_id] = found.get(load_id, 0) + seat.minutes
    return found
