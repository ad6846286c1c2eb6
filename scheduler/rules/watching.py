"""A trained person at every canner that is heating or processing: rule S9."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from scheduler.interval import Span, covered, intersect, merge
from scheduler.plan import Assignment, Load, Task, TaskKind
from scheduler.problem import Person, StationKind
from scheduler.rules.case import Case, Violation, heat
from scheduler.rules.usage import Use, first_gap, overuse

# Whoever takes a watch over stands beside the other for so long. Common practice, no source.
HANDOVER_MINUTES = 10


def check_watches(case: Case) -> Iterator[Violation]:
    """S9: a watch from heat on to heat off, held by trained, present people, handed over at a phase's end."""
    for load in case.plan.loads:
        for problem in chain(_watch(case, load), _watchers(case, load)):
            yield Violation(rule="S9", message=f"Load {load.id}: {problem}", load_id=load.id)


def check_canners_per_person(case: Case) -> Iterator[Violation]:
    """S9: nobody watches more canners at once than the kitchen allows."""
    limit = case.day.policy.canners_per_person
    watched: dict[str, list[Use]] = {}
    for one in _watches(case):
        watched.setdefault(one.person_id, []).append((one.start, one.end, 1))
    for person_id, uses in watched.items():
        over = overuse(uses, limit)
        if over is not None:
            name = case.people[person_id].name if person_id in case.people else person_id
            yield Violation(
                rule="S9",
                message=f"{name} watches {over[1]:g} canners at {case.clock(over[0])}; the kitchen allows {limit}.",
            )


def _watches(case: Case) -> Iterator[Assignment]:
    """Everybody's time at canners that is still to come."""
    for one in case.ahead:
        task = case.tasks.get(one.task_id)
        if task is not None and task.kind is TaskKind.WATCH:
            yield one


def _watch(case: Case, load: Load) -> Iterator[str]:
    heated, tasks = _heat_ahead(case, load), case.of_load(load, TaskKind.WATCH)
    if heated is None:
        return
    if len(tasks) != 1:
        yield f"it needs one watch; the plan has {len(tasks)}."
        return
    (task,) = tasks
    if task.start > heated[0] or task.end < heated[1] or task.hands < 1:
        yield (
            f"the heat is on from {case.clock(heated[0])} to {case.clock(heated[1])}; the watch runs from "
            f"{case.clock(task.start)} to {case.clock(task.end)} with {task.hands} hands."
        )


def _heat_ahead(case: Case, load: Load) -> tuple[int, int] | None:
    """From heat on to heat off, as far as it is still to come; None when it is over."""
    heated = heat(load)
    if heated is None or heated[1] <= case.since:
        return None
    return max(heated[0], case.since), heated[1]


def _watchers(case: Case, load: Load) -> Iterator[str]:
    heated, tasks = _heat_ahead(case, load), case.of_load(load, TaskKind.WATCH)
    if heated is None or len(tasks) != 1:
        return
    (task,) = tasks
    able: list[Assignment] = []
    for one in _at(case, task):
        if _learns(case, one):
            continue  # Beside the others: whether a trained person is there at every minute is counted without.
        problem = _unfit(case, one)
        if problem is None:
            able.append(one)
        else:
            yield problem
    gap = first_gap(*heated, [(one.start, one.end) for one in able])
    if gap is not None:
        yield f"no trained person is at the canner at {case.clock(gap)}."
    yield from _handovers(case, load, able)
    if load.id in case.begun:
        yield from _left_now(case, task, able)


def _at(case: Case, task: Task) -> list[Assignment]:
    return [one for one in case.named.get(task.id, ()) if one.start < one.end]


def _unfit(case: Case, one: Assignment) -> str | None:
    person = case.people.get(one.person_id)
    if person is None:
        return f"{one.person_id!r}, who is not among the people, would watch it."
    if not person.trained:
        return f"{person.name} watches it from {case.clock(one.start)} and is not trained to run a canner."
    if person.under_16:
        return f"{person.name} watches it from {case.clock(one.start)} and is under 16."
    if not _here(person, one):
        return f"{person.name} is not here for all of {case.clock(one.start)} to {case.clock(one.end)}."
    return None


def _learns(case: Case, one: Assignment) -> bool:
    """True for somebody who learns to run a canner, is of age and is here: not a watcher, and no fault."""
    person = case.people.get(one.person_id)
    return (
        person is not None
        and person.learning
        and not person.trained
        and not person.under_16
        and _here(person, one)
    )


def _here(person: Person, one: Assignment) -> bool:
    return covered(Span(one.start, one.end), person.hours)


def _left_now(case: Case, task: Task, watchers: list[Assignment]) -> Iterator[str]:
    """Whoever watches as the rest is planned again goes on: no watch is taken away in passing.

    Unless they are gone before it ends, have enough canners, or find no room beside the others.
    """
    going_on = {one.person_id for one in watchers if one.start == case.since}
    for one in case.plan.assignments:
        person = case.people.get(one.person_id)
        if one.task_id != task.id or person is None or one.end != case.since or person.id in going_on:
            continue
        may_go_on = person.may_watch and _stays(case, person, task) and not _is_full(case, person)
        if may_go_on and _has_room(case):
            yield f"{person.name} watches it and is still here; the watch is not handed over at once."


def _stays(case: Case, person: Person, task: Task) -> bool:
    """True when somebody is here, with whom they come, until the watch is over."""
    other = case.people.get(person.comes_with or "")
    hours = person.hours if other is None else intersect(person.hours, other.hours)
    return covered(Span(case.since, task.end), hours)


def _is_full(case: Case, person: Person) -> bool:
    """True when somebody watches as many canners now as one may."""
    watched = sum(one.person_id == person.id and one.start == case.since for one in _watches(case))
    return watched >= case.day.policy.canners_per_person


def _has_room(case: Case) -> bool:
    """True when the canner station has hands for one person more than watch now. One that is not listed has room."""
    station = next((one for one in case.day.stations if one.kind is StationKind.CANNER), None)
    if station is None:
        return True
    hands = sum(one.count for one in station.hands if one.span.start <= case.since < one.span.end)
    now = (one for one in _watches(case) if one.start == case.since)
    watching = {one.person_id for one in now if not _learns(case, one)}
    return len(watching) < hands


def _handovers(case: Case, load: Load, watchers: list[Assignment]) -> Iterator[str]:
    edges = {phase.end for phase in load.phases}
    for before, after in _turns(watchers):
        together = before.end - after.start
        if together < HANDOVER_MINUTES or not any(after.start <= edge <= before.end for edge in edges):
            yield (
                f"the watch is handed over at {case.clock(after.start)} with {max(0, together)} min together; it "
                f"takes {HANDOVER_MINUTES}, where a phase ends."
            )


def _turns(watchers: list[Assignment]) -> Iterator[tuple[Span, Span]]:
    """Each two of which the second takes over: who stays longest so far, and who stays longer than that."""
    own: dict[str, list[Span]] = {}
    for one in watchers:
        own.setdefault(one.person_id, []).append(Span(one.start, one.end))
    turns = sorted((turn for spans in own.values() for turn in merge(spans)), key=_longest_first)
    for number, after in enumerate(turns):
        before = max(turns[:number], key=lambda turn: turn.end, default=after)
        if after.end > before.end:
            yield before, after


def _longest_first(turn: Span) -> tuple[int, int]:
    return turn.start, -turn.end
