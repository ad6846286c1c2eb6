"""Whom a lead keeps at which piece of a plan's work, and whether that can be: refused in words where it cannot.

What is looked at here is only what is kept, each piece alone and a person's pieces together. Whether the rest of the
work finds its people is for whoever draws the rota up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from scheduler.day_clock import clock_words
from scheduler.errors import CannotBeKept
from scheduler.interval import Span, covered
from scheduler.plan import Assignment, Plan, Task, TaskKind
from scheduler.problem import Day, Person
from scheduler.rota.naming import ADULT_TASKS, STATION_OF, may_do
from scheduler.rota.of_plan import hours_of, limits_of, may_learn
from scheduler.rota.strain import Work, faults

_ANOTHER = "Keep another person there, or let the rota choose."


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """What may be kept, in a fixed order. ``beside`` are those who learn beside a watch, ``at_work`` all others."""

    at_work: tuple[Assignment, ...]
    beside: tuple[Assignment, ...]

    @property
    def every(self) -> tuple[Assignment, ...]:
        """All that is kept."""
        return (*self.at_work, *self.beside)


def keeping(day: Day, plan: Plan, keep: Iterable[Assignment]) -> Keeping:
    """What the lead keeps, looked at. A watch is kept whole: it is one person's from heat on to heat off (rule S9).

    ``CannotBeKept`` when a piece is not of the plan, its person may not do it or is not there, or when the pieces
    together are more than a task has hands or more than one person may be asked.
    """
    people = {person.id: person for person in day.people}
    tasks = {task.id: task for task in plan.tasks}
    kept = sorted({_piece(tasks, people, one) for one in keep}, key=_order)
    for one in kept:
        _check_alone(day, plan, tasks[one.task_id], people[one.person_id], one)
    kept = list(_merged(kept))
    beside = tuple(one for one in kept if _learns(people[one.person_id], tasks[one.task_id]))
    found = Keeping(at_work=tuple(one for one in kept if one not in beside), beside=beside)
    _check_hands(day, plan, tasks, found)
    for person in day.people:
        _check_person(day, plan, tasks, person, [one for one in kept if one.person_id == person.id])
    return found


def work_words(day: Day, plan: Plan, task: Task, span: Span | None = None) -> str:
    """A piece of work for the lead: ``fill for load 2 of Old Grey, 09:10 to 09:30``."""
    load = next((one for one in plan.loads if one.id == task.load_id), None)
    names = {canner.id: canner.name for canner in day.canners}
    what = f"load {task.load_id}"
    if load is not None:
        what = f"load {load.number} of {names.get(load.canner_id, load.canner_id)}"
    span = span or task.span
    return f"{task.kind} for {what}, {clock_words(day, span.start)} to {clock_words(day, span.end)}"


def _piece(tasks: Mapping[str, Task], people: Mapping[str, Person], one: Assignment) -> Assignment:
    task = tasks.get(one.task_id)
    if task is None:
        raise CannotBeKept(
            f"The plan has no task {one.task_id!r}.", remedy="Look up the task's name in the plan."
        )
    if one.person_id not in people:
        raise CannotBeKept(
            f"{one.person_id!r}, who would be kept at task {task.id}, is not among the people of the day.",
            remedy="Give the person hours on this day first, or keep somebody who is there.",
        )
    if task.kind is TaskKind.WATCH:
        return replace(one, start=task.start, end=task.end)
    if not task.start <= one.start < one.end <= task.end:
        raise CannotBeKept(
            f"What would be kept at task {task.id} does not lie within it.",
            remedy="Keep people only while the task runs.",
        )
    return one


def _order(one: Assignment) -> tuple[str, str, int, int]:
    return one.task_id, one.person_id, one.start, one.end


def _merged(kept: Sequence[Assignment]) -> Iterable[Assignment]:
    """Pieces of one person at one task that touch, as one."""
    last: Assignment | None = None
    for one in kept:
        if last is not None and _order(last)[:2] == _order(one)[:2] and one.start <= last.end:
            last = replace(last, end=max(last.end, one.end))
            continue
        if last is not None:
            yield last
        last = one
    if last is not None:
        yield last


def _learns(person: Person, task: Task) -> bool:
    return task.kind is TaskKind.WATCH and not person.may_watch and may_learn(person)


def _check_alone(day: Day, plan: Plan, task: Task, person: Person, one: Assignment) -> None:
    """Refuse somebody who may not do this work, whatever else they do, or who is not there for it."""
    span = Span(one.start, one.end)
    where = work_words(day, plan, task, span)
    if not may_do(person, task.kind) and not _learns(person, task):
        raise CannotBeKept(
            f"{person.name} cannot be kept at {where}: {_unfit(person, task)}", remedy=_ANOTHER
        )
    if not covered(span, person.hours):
        raise CannotBeKept(
            f"{person.name} is not there for all of {where}.",
            remedy="Change the person's hours first, or keep another person there.",
        )
    if not covered(span, hours_of(day, person)):
        other = next(each.name for each in day.people if each.id == person.comes_with)
        raise CannotBeKept(
            f"{person.name} comes and goes with {other}, who is not there for all of {where}.",
            remedy=_ANOTHER,
        )


def _unfit(person: Person, task: Task) -> str:
    if person.under_16 and task.kind in ADULT_TASKS:
        return f"{task.kind} is not for people under 16."
    if STATION_OF[task.kind] in person.cannot:
        return f"this person cannot work at {STATION_OF[task.kind]}."
    return "this person is not trained to run a canner (rule S9)."


def _check_hands(day: Day, plan: Plan, tasks: Mapping[str, Task], kept: Keeping) -> None:
    """Refuse more people at a task than it has hands, and more than one who learns beside a watch."""
    for row, room in ((kept.at_work, None), (kept.beside, 1)):
        for task_id in dict.fromkeys(one.task_id for one in row):
            task = tasks[task_id]
            hands = task.hands if room is None else room
            mine = [one for one in row if one.task_id == task_id]
            for start, end in pairwise(sorted({edge for one in mine for edge in (one.start, one.end)})):
                count = sum(one.start <= start and end <= one.end for one in mine)
                if count > hands:
                    raise CannotBeKept(
                        f"{count} people would be kept at {work_words(day, plan, task, Span(start, end))}; "
                        f"it takes {hands}.",
                        remedy="Keep fewer people there.",
                    )


def _check_person(
    day: Day, plan: Plan, tasks: Mapping[str, Task], person: Person, mine: Sequence[Assignment]
) -> None:
    """Refuse to keep one person in two places, at too many canners, or at more than may be asked of anybody."""
    for one, other in combinations(mine, 2):
        first, second = tasks[one.task_id], tasks[other.task_id]
        if one.start < other.end and other.start < one.end and not _together(person, first, second):
            raise CannotBeKept(
                f"{person.name} cannot be kept in two places at once: {work_words(day, plan, first)}, and "
                f"{work_words(day, plan, second)}.",
                remedy="Keep the person at one of them.",
            )
    watched = Counter(
        each.start
        for each in mine
        for other in mine
        if tasks[each.task_id].kind is tasks[other.task_id].kind is TaskKind.WATCH
        and other.start <= each.start < other.end
        and person.may_watch
    )
    # Watches that begin in the same minute see each other more than once.
    begun = Counter(each.start for each in mine if tasks[each.task_id].kind is TaskKind.WATCH)
    limit = day.policy.canners_per_person
    for start, seen in sorted(watched.items()):
        if seen // begun[start] > limit:
            raise CannotBeKept(
                f"{person.name} would watch {seen // begun[start]} canners at {clock_words(day, start)}; the kitchen "
                f"allows {limit} (rule S9).",
                remedy="Keep another trained person at one of them.",
            )
    too_much = faults(
        [
            Work(one.start, one.end, STATION_OF[tasks[one.task_id].kind].value, _is_held(person, tasks, one))
            for one in mine
        ],
        limits_of(day),
        person.most_minutes,
    )
    if too_much:
        raise CannotBeKept(
            f"What is kept for {person.name} is too much: {too_much[0]}",
            remedy="Keep the person at less of it, and let the rota choose the rest.",
        )


def _together(person: Person, first: Task, second: Task) -> bool:
    """True for two canners that one trained person watches."""
    return first.kind is second.kind is TaskKind.WATCH and person.may_watch


def _is_held(person: Person, tasks: Mapping[str, Task], one: Assignment) -> bool:
    return tasks[one.task_id].kind is TaskKind.WATCH and person.may_watch
