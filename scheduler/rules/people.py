"""Who is where, and hands at the stations: rules "people" and "hands"."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from scheduler.interval import Span, covered
from scheduler.plan import Assignment, Task, TaskKind
from scheduler.problem import Person, Station, StationKind
from scheduler.rules.case import EVER, Case, Violation
from scheduler.rules.usage import Use, clashes, overuse

STATION: dict[TaskKind, StationKind] = {
    TaskKind.PREP: StationKind.PREP,
    TaskKind.KETTLE: StationKind.KETTLE,
    TaskKind.FILL: StationKind.FILL,
    TaskKind.COOLING: StationKind.COOLING,
}
"""The work that takes the hands a listed station has. A watch is counted apart; cleaning takes none."""
# Boiling pots, hot canners and hot jars are not for under-16s (rule S9).
_ADULTS_ONLY = frozenset({TaskKind.KETTLE, TaskKind.COOLING, TaskKind.CLEANING})


def check_people(case: Case) -> Iterator[Violation]:
    """ "people": everybody named exists, is here, may do it and is in one place; every task has its people."""
    for one in case.ahead:
        problem = _assignment(case, one)
        if problem is not None:
            task = case.tasks.get(one.task_id)
            yield Violation(rule="people", message=problem, load_id=task.load_id if task else None)
    yield from _two_places(case)
    for task in case.plan.tasks:
        minute = _short_of_people(case, task)
        if task.kind is not TaskKind.WATCH and minute is not None:
            yield Violation(
                rule="people",
                message=f"Task {task.id} ({task.kind} for load {task.load_id}) needs {task.hands} people; too few are "
                f"named at {case.clock(minute)}.",
                load_id=task.load_id,
            )


def check_hands(case: Case) -> Iterator[Violation]:
    """ "hands": no station that the kitchen lists has more hands in use than it has."""
    for task in case.plan.tasks:
        if task.hands < 1:
            yield Violation(
                rule="hands", message=f"Task {task.id} has {task.hands} hands.", load_id=task.load_id
            )
    for station in case.day.stations:
        uses = list(_watching(case) if station.kind is StationKind.CANNER else _working(case, station.kind))
        for start, end, limit in _limits(station):
            over = overuse([(max(a, start), min(b, end), count) for a, b, count in uses], limit)
            if over is not None:
                yield Violation(
                    rule="hands",
                    message=f"Station {station.kind} has {limit} hands at {case.clock(over[0])}; {over[1]:g} are "
                    "needed.",
                )


def _assignment(case: Case, one: Assignment) -> str | None:
    task, person = case.tasks.get(one.task_id), case.people.get(one.person_id)
    if task is None:
        return f"{one.person_id} is sent to task {one.task_id!r}, which does not exist."
    if person is None:
        return f"Task {task.id} names {one.person_id!r}, who is not among the people."
    if not task.start <= one.start < one.end <= task.end:
        return (
            f"{person.name} is at task {task.id} from {case.clock(one.start)} to {case.clock(one.end)}; it runs from "
            f"{case.clock(task.start)} to {case.clock(task.end)}."
        )
    if task.kind in _ADULTS_ONLY and person.under_16:
        return f"{person.name} is under 16 and may not do {task.kind} (task {task.id})."
    if task.kind is not TaskKind.WATCH and not covered(Span(one.start, one.end), person.hours):
        when = f"{case.clock(one.start)} to {case.clock(one.end)}"
        return f"{person.name} is not here for all of {when} (task {task.id})."
    return None


def _two_places(case: Case) -> Iterator[Violation]:
    for person in case.day.people:
        for one, other, minute in clashes(_places(case, person)):
            if one.id != other.id and not one.kind is other.kind is TaskKind.WATCH:
                yield Violation(
                    rule="people",
                    message=f"{person.name} is at {one.kind} (task {one.id}) and at {other.kind} (task {other.id}) at "
                    f"{case.clock(minute)}.",
                    load_id=other.load_id,
                )


def _places(case: Case, person: Person) -> Iterator[tuple[int, int, Task]]:
    for one in case.ahead:
        task = case.tasks.get(one.task_id)
        if one.person_id == person.id and task is not None:
            yield one.start, one.end, task


def _short_of_people(case: Case, task: Task) -> int | None:
    """The first minute of a task, from now on, with fewer different people than hands."""
    at = [one for one in case.named.get(task.id, ()) if one.person_id in case.people]
    begins = max(task.start, case.since)
    # Somebody can be missing only from the beginning, or from when somebody else leaves.
    edges = {one.end for one in at} | {begins}
    for minute in sorted(edge for edge in edges if begins <= edge < task.end):
        if len({one.person_id for one in at if one.start <= minute < one.end}) < task.hands:
            return minute
    return None


def _working(case: Case, kind: StationKind) -> Iterator[Use]:
    for task in case.plan.tasks:
        if STATION.get(task.kind) is kind:
            yield max(task.start, case.since), task.end, task.hands


def _watching(case: Case) -> Iterator[Use]:
    """People at canners, each once however many canners they watch; as few as possible where none is named."""
    watches = {task.id: task for task in case.plan.tasks if task.kind is TaskKind.WATCH}
    edges = sorted(
        {max(edge, case.since) for task in watches.values() for edge in (task.start, task.end)}
        | {edge for one in case.ahead if one.task_id in watches for edge in (one.start, one.end)}
    )
    for start, end in pairwise(edges):
        running = sum(task.start <= start < task.end for task in watches.values())
        named = {
            one.person_id
            for one in case.ahead
            if one.task_id in watches and one.start <= start < one.end and not _learns(case, one)
        }
        yield start, end, max(len(named), math.ceil(running / case.day.policy.canners_per_person))


def _learns(case: Case, one: Assignment) -> bool:
    """True for somebody who only looks on: a place at the canner is not taken by learning."""
    person = case.people.get(one.person_id)
    return person is not None and person.learning and not person.trained


def _limits(station: Station) -> Iterator[tuple[int, int, int]]:
    """The station's hands at all times: none outside its listed spans, which never overlap."""
    reached = EVER
    for hands in sorted(station.hands, key=lambda one: one.span):
        yield reached, hands.span.start, 0
        yield hands.span.start, hands.span.end, hands.count
        reached = hands.span.end
    yield reached, -EVER, 0
