"""The small harvest day of ``days``, under way: the first load has begun, the second has not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scheduler.cycle import PhaseKind
from scheduler.floor import Begun, Floor
from scheduler.floor_record import Record, floor_of
from scheduler.plan import Load, Plan, TaskKind
from scheduler.problem import Day
from tests.factories.days import make_day, make_plan

NOW = 190
"""The first load heats up since 180; the second batch is in the kettle and will be filled from 195."""

LATER = 330
"""The first load's jars are out, the second load is cooling or out as well."""


def ends_by(load: Load, now: int) -> dict[PhaseKind, int]:
    """The ends of the phases that are over by then, everything as planned."""
    return {phase.kind: phase.end for phase in load.phases if phase.end <= now}


def floor_at(now: int, changes: Mapping[str, Record] | None = None) -> Floor:
    """The floor at a minute, everything as planned but for the records given."""
    plan = make_plan(make_day())
    filled = {task.load_id for task in plan.tasks if task.kind is TaskKind.FILL and task.start <= now}
    records = {load.id: Record(ended=ends_by(load, now)) for load in plan.loads if load.id in filled}
    return floor_of(make_day(), plan, now, {**records, **(changes or {})})


def under_way(now: int = NOW, changes: Mapping[str, Record] | None = None, **day: object) -> Day:
    """The small day with that floor."""
    return make_day(**{"floor": floor_at(now, changes), **day})


def as_recorded(day: Day, plan: Plan) -> Plan:
    """A plan whose begun loads and their work are those of the day's floor."""
    assert day.floor is not None
    begun: dict[str, Begun] = {one.load.id: one for one in day.floor.begun}
    tasks = {task.id: task for one in begun.values() for task in one.tasks}
    ends = {task.id: task for task in plan.tasks}
    return replace(
        plan,
        loads=tuple(begun[load.id].load if load.id in begun else load for load in plan.loads),
        tasks=tuple(tasks.get(task.id, task) for task in plan.tasks),
        assignments=tuple(
            replace(one, start=tasks[one.task_id].start, end=tasks[one.task_id].end)
            if one.task_id in tasks and one.end == ends[one.task_id].end
            else one
            for one in plan.assignments
        ),
    )
