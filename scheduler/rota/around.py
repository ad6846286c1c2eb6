"""A plan's work as seats with some of them kept: who is kept sits there, and nobody else may."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from scheduler.interval import Span
from scheduler.plan import Assignment, Plan, Task, TaskKind
from scheduler.problem import Day
from scheduler.rota.keeping import Keeping
from scheduler.rota.naming import may_do
from scheduler.rota.of_plan import OfPlan, rota_of
from scheduler.rota.question import Taken

_NOBODY = ""
"""In the place of a person: a piece of work that waits for somebody."""


def seats_around(day: Day, plan: Plan, kept: Keeping, *, fine: bool = False) -> OfPlan:
    """The seats of a plan's work. In the first rota the kept people are in their seats, the others as the plan has
    them.

    ``fine`` also cuts work where somebody comes or goes, so that it may change hands there.
    """
    cuts = _comings_and_goings(day) if fine else set()
    first = [one for task in plan.tasks for one in _at(day, plan, task, kept.at_work, cuts)]
    rota = rota_of(day, plan.loads, plan.tasks, first, hand_overs=False)
    numbers = {person.id: number for number, person in enumerate(day.people)}
    taken, pinned = list(rota.first), dict(_pins(rota, kept.at_work, numbers))
    for number, (task, hand) in enumerate(rota.tasks):
        if hand < task.hands:
            continue
        # A seat beside a watch: the first rota says nothing of these.
        named = [one for one in plan.assignments if one.task_id == task.id]
        chosen = [one for one in kept.beside if one.task_id == task.id]
        for one in chosen or named:
            person = numbers.get(one.person_id)
            if person in rota.question.seats[number].able:
                taken[number] = person
        if chosen:
            pinned[number] = numbers[chosen[0].person_id]
    seats = tuple(
        replace(seat, able=frozenset({pinned[number]}), optional=False) if number in pinned else seat
        for number, seat in enumerate(rota.question.seats)
    )
    question = replace(rota.question, seats=seats, pinned=tuple(sorted(pinned.items())))
    return replace(rota, question=question, first=tuple(taken))


def keeps_all(rota: OfPlan, taken: Taken) -> bool:
    """True when everybody who is kept is still where they were put."""
    return all(taken[number] == person for number, person in rota.question.pinned)


def _comings_and_goings(day: Day) -> set[int]:
    return {edge for person in day.people for span in person.hours for edge in (span.start, span.end)}


def _pins(rota: OfPlan, kept: Sequence[Assignment], numbers: dict[str, int]) -> Iterator[tuple[int, int]]:
    """The seats that the kept pieces cover, each with its person."""
    for number, (task, hand) in enumerate(rota.tasks):
        seat = rota.question.seats[number]
        for one in kept if hand < task.hands else ():
            person = numbers[one.person_id]
            if (
                one.task_id == task.id
                and rota.first[number] == person
                and one.start <= seat.start
                and seat.end <= one.end
            ):
                yield number, person


def _at(day: Day, plan: Plan, task: Task, kept: Sequence[Assignment], cuts: set[int]) -> Iterable[Assignment]:
    """Who is at a task in the first rota: the kept people, then as many of the plan's as there are hands for."""
    able = {person.id for person in day.people if may_do(person, task.kind)}
    here = [one for one in kept if one.task_id == task.id]
    named = [one for one in plan.assignments if one.task_id == task.id and one.person_id in able]
    if task.kind is TaskKind.WATCH:
        watcher = here[:1] or sorted(named, key=lambda one: one.start)[:1]
        return [replace(one, start=task.start, end=task.end) for one in watcher]
    edges = {edge for one in (*here, *named) for edge in (one.start, one.end)} | cuts
    inside = sorted({task.start, task.end, *(edge for edge in edges if task.start < edge < task.end)})
    moments = [Span(start, end) for start, end in pairwise(inside)]
    pieces: list[Assignment] = []
    for moment in moments:
        people = dict.fromkeys(
            one.person_id for one in (*here, *named) if one.start <= moment.start and moment.end <= one.end
        )
        chosen = [*people][: task.hands]
        for person in (*chosen, *(_NOBODY,) * (task.hands - len(chosen))):
            pieces.append(Assignment(task_id=task.id, person_id=person, start=moment.start, end=moment.end))
    return pieces if cuts else _joined(pieces, here)


def _joined(pieces: Sequence[Assignment], kept: Sequence[Assignment]) -> Iterable[Assignment]:
    """Pieces of one person that follow on each other as one, cut where something kept begins or ends."""
    edges = {(one.person_id, edge) for one in kept for edge in (one.start, one.end)}
    by_person: dict[str, list[Assignment]] = {}
    for one in pieces:
        row = by_person.setdefault(one.person_id, [])
        if row and row[-1].end == one.start and (one.person_id, one.start) not in edges:
            row[-1] = replace(row[-1], end=one.end)
        elif one.person_id != _NOBODY:
            row.append(one)
    return [one for row in by_person.values() for one in row]
