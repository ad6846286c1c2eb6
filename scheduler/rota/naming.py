"""People to tasks: who does what, minute by minute, with as few hand-overs as the hours allow.

The search has counted heads so that there are enough at every minute; a watch already has one trained person
from heat on to heat off. What remains is to name people for the rest, adults first where only adults may
work.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scheduler.interval import Span
from scheduler.plan import Assignment, Task, TaskKind
from scheduler.problem import Day, Person, StationKind

ADULT_TASKS = frozenset({TaskKind.KETTLE, TaskKind.COOLING, TaskKind.CLEANING, TaskKind.WATCH})
"""Never for someone under 16: hot kettles, canners and jars.

Common practice, no source; published canneries admit helpers from 10 to 13 years on, to the tables only.
"""


STATION_OF: dict[TaskKind, StationKind] = {
    TaskKind.PREP: StationKind.PREP,
    TaskKind.KETTLE: StationKind.KETTLE,
    TaskKind.FILL: StationKind.FILL,
    TaskKind.WATCH: StationKind.CANNER,
    TaskKind.COOLING: StationKind.COOLING,
    TaskKind.CLEANING: StationKind.PREP,
}
"""Where each kind of task is done; what is cleaned after meat and fish is where they were prepared."""


def may_do(person: Person, kind: TaskKind) -> bool:
    """True when a person may do such work: of age, trained for a watch, and not unable to."""
    if kind is TaskKind.WATCH:
        return person.may_watch
    return STATION_OF[kind] not in person.cannot and not (person.under_16 and kind in ADULT_TASKS)


@dataclass(frozen=True, slots=True)
class _Seat:
    """One pair of hands at a task."""

    task: Task
    number: int


def assign(
    day: Day, tasks: Sequence[Task], watchers: Mapping[str, int], before: Iterable[Assignment] = ()
) -> tuple[Assignment, ...]:
    """Name people for every task. ``watchers`` gives, by task id, the index in ``day.people`` of who watches.

    Whoever had a piece of work ``before`` keeps it where that can be. Seats that nobody can take stay empty; the judge
    and the plan's warnings say so.
    """
    before = tuple(before)
    promised = _Promised(day, before)
    seats = [_Seat(task, n) for task in tasks if task.kind is not TaskKind.WATCH for n in range(task.hands)]
    seats.sort(key=_order)
    edges = sorted(_edges(day, tasks) | {edge for one in before for edge in (one.start, one.end)})
    sitting: dict[_Seat, int] = {}
    pieces: dict[tuple[Task, int], list[Span]] = {}
    for start, end in itertools.pairwise(edges):
        moment = Span(start, end)
        free = _free(day, tasks, watchers, moment)
        now = [seat for seat in seats if seat.task.start <= start and end <= seat.task.end]
        sitting = _sit(day.people, now, free, sitting, promised, moment)
        for seat, person in sitting.items():
            pieces.setdefault((seat.task, person), []).append(moment)
    named = [
        Assignment(
            task_id=task.id, person_id=day.people[watchers[task.id]].id, start=task.start, end=task.end
        )
        for task in tasks
        if task.kind is TaskKind.WATCH and task.id in watchers
    ]
    named += [
        Assignment(task_id=task.id, person_id=day.people[person].id, start=span.start, end=span.end)
        for (task, person), moments in pieces.items()
        for span in _joined(moments)
    ]
    return tuple(sorted(named, key=lambda one: (one.start, one.task_id, one.person_id)))


def _edges(day: Day, tasks: Iterable[Task]) -> set[int]:
    edges = {edge for task in tasks for edge in (task.start, task.end)}
    return edges | {edge for person in day.people for span in person.hours for edge in (span.start, span.end)}


def _order(seat: _Seat) -> tuple[bool, int, str, int]:
    return (seat.task.kind not in ADULT_TASKS, seat.task.start, seat.task.id, seat.number)


def _free(day: Day, tasks: Sequence[Task], watchers: Mapping[str, int], moment: Span) -> set[int]:
    busy = {
        watchers[task.id]
        for task in tasks
        if task.start <= moment.start
        and moment.end <= task.end
        and task.kind is TaskKind.WATCH
        and task.id in watchers
    }
    return {
        number
        for number, person in enumerate(day.people)
        if number not in busy and any(span.holds(moment) for span in person.hours)
    }


class _Promised:
    """Who had which work in a plan before, by task and minute."""

    def __init__(self, day: Day, before: Iterable[Assignment]) -> None:
        numbers = {person.id: number for number, person in enumerate(day.people)}
        self._by_task: dict[str, list[tuple[int, int, int]]] = {}
        self._by_person: dict[int, list[tuple[int, int, str]]] = {}
        for one in before:
            if one.person_id in numbers:
                person = numbers[one.person_id]
                self._by_task.setdefault(one.task_id, []).append((one.start, one.end, person))
                self._by_person.setdefault(person, []).append((one.start, one.end, one.task_id))

    def at(self, seats: Sequence[_Seat], moment: Span) -> dict[_Seat, int]:
        """Who was to sit where at this moment."""
        found: dict[_Seat, int] = {}
        for seat in seats:
            there = [
                person
                for start, end, person in self._by_task.get(seat.task.id, ())
                if start <= moment.start < end
            ]
            if seat.number < len(there):
                found[seat] = there[seat.number]
        return found

    def is_wanted(self, person: int, seat: _Seat, start: int) -> bool:
        """True when somebody is to do something else before the seat's task ends."""
        return any(
            begins < seat.task.end and start < ends and task_id != seat.task.id
            for begins, ends, task_id in self._by_person.get(person, ())
        )


def _sit(
    people: Sequence[Person],
    now: Sequence[_Seat],
    free: set[int],
    before: Mapping[_Seat, int],
    promised: _Promised,
    moment: Span,
) -> dict[_Seat, int]:
    """Fill the seats of one moment: whoever was promised it, else whoever sat there, where that leaves enough adults
    for adults' work.
    """
    sitting: dict[_Seat, int] = {}
    there = promised.at(now, moment)
    elsewhere = set(there.values())
    for seat in now:
        able = {one for one in free if may_do(people[one], seat.task.kind)}
        if not able:
            continue
        stays = before.get(seat)
        waiting = elsewhere | set(before.values())
        chosen = there.get(seat)
        if chosen not in able:
            chosen = stays if stays in able - elsewhere else None
        if chosen is None:
            wanted = {one for one in able if promised.is_wanted(one, seat, moment.start)}
            chosen = min(able, key=lambda one: (one in wanted, _rank(people[one], one, waiting)))
        if chosen is not None:
            sitting[seat] = chosen
            free.discard(chosen)
    return sitting


def _rank(person: Person, number: int, elsewhere: set[int]) -> tuple[bool, bool, bool, int]:
    """Idle people before those in the middle of something, the young where they may, the trained last."""
    return (number in elsewhere, person.trained, not person.under_16, number)


def _joined(moments: Sequence[Span]) -> list[Span]:
    joined: list[Span] = []
    for moment in moments:
        if joined and joined[-1].end == moment.start:
            joined[-1] = Span(joined[-1].start, moment.end)
        else:
            joined.append(moment)
    return joined
