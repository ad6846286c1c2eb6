"""A harvest day as the planner's question, and the planner's answer as what publishing writes.

Ids are primary keys as text; times become whole minutes since local midnight here, once, and moments again on
the way back. Rows are read in the order of their keys, so that the same rows always make the same question.
"""

from __future__ import annotations

from kitchen.planning.bridge.answer import begun_keys, difference_of, lost_keys, planned_day, violations_of
from kitchen.planning.bridge.question import day_of, question_of
from kitchen.planning.bridge.search import ask_what_if, plan_day, plan_rest
from kitchen.planning.bridge.values import dump_day, dump_plan, read_day, read_plan, read_what_if
from scheduler.difference import Difference
from scheduler.digest import day_digest
from scheduler.problem import Day

__all__ = [
    "Day",
    "Difference",
    "ask_what_if",
    "begun_keys",
    "day_digest",
    "day_of",
    "difference_of",
    "dump_day",
    "dump_plan",
    "lost_keys",
    "plan_day",
    "plan_rest",
    "planned_day",
    "question_of",
    "read_day",
    "read_plan",
    "read_what_if",
    "violations_of",
]
