"""What has begun claims its canner, its watch and its table first; what it cannot have, a lead must settle."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from scheduler.day_clock import clock_words
from scheduler.errors import FloorUnsettled
from scheduler.floor import Begun, Floor
from scheduler.interval import Span
from scheduler.plan import Plan, Task, TaskKind
from scheduler.problem import Day
from scheduler.rota.naming import may_do
from scheduler.rota.of_plan import hours_of
from scheduler.search.keep import Keeper, Kept
from scheduler.search.resources import Resources, Watcher


def settle(day: Day, floor: Floor, before: Plan, have: Resources, keeper: Keeper) -> list[Kept]:
    """Reserve everything that has begun; returned with who watches each load from now on.

    A watch goes on with whoever has it. When that person is gone, or a delay leaves them with more canners than one may
    watch, somebody else who is trained takes over at once;
    ``FloorUnsettled`` when there is nobody, when jars would come out after closing, or with nobody to lift them out.
    """
    loads = [Kept(load=one.load, tasks=one.tasks, watcher=_watcher(day, before, one)) for one in floor.begun]
    watched = [one for one in loads if _is_watched(one, floor.now)]
    settled = [replace(one, watcher=None) for one in loads if not _is_watched(one, floor.now)]
    for one in loads:
        _check_open(day, floor.now, one)
        _check_hands(day, floor.now, one)
        keeper.take(have, replace(one, watcher=None))
    going_on: list[Kept] = []
    taken_over: list[Kept] = []
    # Whoever has been at a canner longest stays there; a watch still to begin is the first that somebody else gets.
    for one in sorted(watched, key=_watch_start):
        same = _can_go_on(keeper, have, one)
        (taken_over if same is None else going_on).append(one)
        if same is not None:
            _watch(have, one, same, floor.now)
    for one in taken_over:
        watcher = keeper.watcher(have, one)
        if watcher is None:
            raise _nobody(day, floor.now, one)
        _watch(have, one, watcher, floor.now)
        going_on.append(replace(one, watcher=watcher.index))
    return _in_floor_order(floor, [*settled, *going_on])


def _in_floor_order(floor: Floor, loads: Iterable[Kept]) -> list[Kept]:
    found = {one.load.id: one for one in loads}
    return [found[one.load.id] for one in floor.begun]


def _is_watched(one: Kept, now: int) -> bool:
    return any(task.kind is TaskKind.WATCH and task.end > now for task in one.tasks)


def _watch_start(one: Kept) -> int:
    return min(task.start for task in one.tasks if task.kind is TaskKind.WATCH)


def _watcher(day: Day, before: Plan, begun: Begun) -> int | None:
    """Who was the last to watch the load, or to be named for it; whoever only learns beside them does not count."""
    watches = {task.id for task in begun.tasks if task.kind is TaskKind.WATCH}
    numbers = {person.id: number for number, person in enumerate(day.people) if person.may_watch}
    named = [one for one in before.assignments if one.task_id in watches and one.person_id in numbers]
    return numbers[max(named, key=lambda one: one.start).person_id] if named else None


def _can_go_on(keeper: Keeper, have: Resources, one: Kept) -> Watcher | None:
    watcher = keeper.watcher(have, one)
    return watcher if watcher is not None and watcher.index == one.watcher else None


def _watch(have: Resources, one: Kept, watcher: Watcher, now: int) -> None:
    for task in one.tasks:
        if task.kind is TaskKind.WATCH and task.end > now:
            have.take_watch(watcher, max(task.start, now), task.end)


def _check_open(day: Day, now: int, one: Kept) -> None:
    last = max([one.load.jars_out, *(task.end for task in one.tasks)])
    if last > now and not day.is_open(Span(max(now, one.taken.start), last)):
        raise FloorUnsettled(
            f"Load {one.load.id} is expected out of its canner at {clock_words(day, one.load.jars_out)}, with its work "
            f"over at {clock_words(day, last)}, after the kitchen closes.",
            remedy="Keep the kitchen open until then, with somebody to lift the jars out; then plan again.",
        )


def _check_hands(day: Day, now: int, one: Kept) -> None:
    """Refuse a floor on which nobody is there for the work that what has begun still needs."""
    for task in one.tasks:
        if task.kind in (TaskKind.COOLING, TaskKind.CLEANING) and task.end > now:
            _check_somebody(day, now, one, task)


def _check_somebody(day: Day, now: int, one: Kept, task: Task) -> None:
    span = Span(max(now, task.start), task.end)
    able = [person for person in day.people if may_do(person, task.kind)]
    if not any(any(hours.holds(span) for hours in hours_of(day, person)) for person in able):
        raise FloorUnsettled(
            f"Nobody is there for {task.kind} after load {one.load.id} from {clock_words(day, span.start)} to "
            f"{clock_words(day, span.end)}.",
            remedy="Ask somebody to stay until then, enter their hours, and plan again.",
        )


def _nobody(day: Day, now: int, one: Kept) -> FloorUnsettled:
    until = max(task.end for task in one.tasks if task.kind is TaskKind.WATCH)
    return FloorUnsettled(
        f"Nobody trained is free to watch load {one.load.id} from {clock_words(day, now)} until its heat goes off at "
        f"{clock_words(day, until)} (rule S9).",
        remedy="Ask a trained person to stay or to come, enter their hours, and plan again. If nobody can, turn the "
        "heat off and record it: the jars are then on hold for your decision.",
    )
