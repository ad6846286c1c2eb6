"""Small changes of a plan of the harvest day of ``days``, to be made one after the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from scheduler.plan import Assignment, Plan
from tests.factories.days import change_assignment, change_task

Change = Callable[[Plan], Plan]


def at(task_id: str, person_id: str, start: int, end: int) -> Change:
    """Somebody is at a task as well."""
    one = Assignment(task_id=task_id, person_id=person_id, start=start, end=end)
    return lambda plan: replace(plan, assignments=(*plan.assignments, one))


def moved(task_id: str, person_id: str, /, **changes: object) -> Change:
    """Somebody's time at a task, changed."""
    return lambda plan: change_assignment(plan, task_id, person_id, **changes)


def task(task_id: str, /, **changes: object) -> Change:
    """A task, changed, and its people with it."""
    return lambda plan: change_task(plan, task_id, **changes)


def then(*changes: Change) -> Change:
    """One change after the other."""

    def change(plan: Plan) -> Plan:
        for one in changes:
            plan = one(plan)
        return plan

    return change
