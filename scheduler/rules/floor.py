"""A day under way: rule "floor", nothing begun is moved, and nothing is planned into the past."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from scheduler.floor import Begun, Floor
from scheduler.plan import Load, Task, TaskKind
from scheduler.rules.case import Case, Violation

ON_HOLD = "on-hold"
"""The code under which a plan leaves out jars that wait for the lead's decision (rule S16)."""


def check_floor(case: Case) -> Iterator[Violation]:
    """ "floor": what has begun stands in the plan as it is, nothing new lies before now, and lost jars are held."""
    floor = case.day.floor
    if floor is None:
        return
    for begun in floor.begun:
        for problem in _unchanged(case, begun):
            yield Violation(rule="floor", message=f"Load {begun.load.id}: {problem}", load_id=begun.load.id)
    for load in case.plan.loads:
        if load.id not in case.begun:
            for problem in _to_come(case, floor, load):
                yield Violation(rule="floor", message=f"Load {load.id}: {problem}", load_id=load.id)
    yield from _held(case, floor)


def _unchanged(case: Case, begun: Begun) -> Iterator[str]:
    load = case.loads.get(begun.load.id)
    if load is None:
        yield "it has begun and is missing from the plan."
        return
    if load.portions != begun.load.portions:
        yield "it has begun; its jars cannot be changed any more."
    elif load != begun.load:
        yield "it has begun; nothing of it can be planned otherwise."
    planned = {task.id: task for task in case.work.get(load.id, ())}
    if planned != {task.id: task for task in begun.tasks}:
        yield "it has begun; its work cannot be planned otherwise."


def _to_come(case: Case, floor: Floor, load: Load) -> Iterator[str]:
    known: dict[str, Task] = {one.task.id: one.task for one in floor.prepared}
    for task in case.work.get(load.id, ()):
        if task.start >= floor.now:
            continue
        if task.kind not in (TaskKind.PREP, TaskKind.KETTLE) or known.get(task.id) != task:
            yield f"its {task.kind} would begin at {case.clock(task.start)}, and it is {case.clock(floor.now)}."
    if load.phases and load.phases[0].start < floor.now:
        yield f"it would begin at {case.clock(load.phases[0].start)}, and it is {case.clock(floor.now)}."


def _held(case: Case, floor: Floor) -> Iterator[Violation]:
    wanted: Counter[str] = Counter()
    for lost, jars in floor.held(case.day.policy.fill_wait_limit_minutes):
        wanted[jars.batch_id] += jars.jars
        if lost.load_id in case.loads:
            yield Violation(
                rule="S16",
                message=f"Load {lost.load_id} lost its canner before the process ended; it cannot be planned on.",
                load_id=lost.load_id,
            )
    held: Counter[str] = Counter()
    for none in case.plan.left_out:
        if none.code == ON_HOLD:
            held[none.batch_id] += none.jars
    for batch_id in wanted.keys() | held.keys():
        if wanted[batch_id] != held[batch_id]:
            yield Violation(
                rule="S16",
                message=f"{wanted[batch_id]} jars of batch {batch_id} lost their canner and wait for the lead; "
                f"the plan holds {held[batch_id]}.",
            )
