"""The planner asked for a day with just one batch and one canner; answers are kept, for days differ in little."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cache, lru_cache
from importlib import import_module
from time import monotonic
from typing import Any

from kitchen.booking.bridge.reading import OnADay
from kitchen.configuration.memory import set_aside_what_stays
from scheduler.canner import Canner
from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Plan
from scheduler.problem import Day

_ANY_DATE = date(2001, 1, 1)
_FOR_WHAT_IF = frozenset({"day-full", "nobody-free"})
"""Their remedy is for harvest days."""


def question(on: OnADay, vessel: Canner, opening: Span, free: Span, arrival: int) -> Day:
    """The day with just this batch, this canner while it is free, and the people who come."""
    return Day(
        kitchen=on.kitchen.name,
        altitude_ft=float(on.kitchen.altitude_ft),
        time_zone=on.kitchen.time_zone,
        date=on.date,
        origin=on.clock.origin,
        opening=(opening,),
        canners=(replace(vessel, service=(free,)),),
        burners=on.burners,
        kettles=on.kettles,
        tables=on.tables,
        people=tuple(replace(person, hours=(Span(arrival, opening.end),)) for person in on.people),
        policy=on.policy,
        batches=(replace(on.batch, arrival=arrival, pickup=opening.end),),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The plan, or why there is none."""

    plan: Plan | None
    reason: str = ""
    remedy: str = ""


def answer_to(day: Day) -> Answer:
    """The planner's answer, kept for as long as the process lives: days differ in little but their date, and minutes
    are counted from midnight. That the canner may be used on its own date was looked at before.
    """
    canner = day.canners[0]
    checked = None if canner.gauge_checked_on is None else _ANY_DATE
    same = replace(
        day,
        date=_ANY_DATE,
        origin=datetime(_ANY_DATE.year, _ANY_DATE.month, _ANY_DATE.day, tzinfo=UTC),
        canners=(replace(canner, gauge_checked_on=checked),),
    )
    return _asked(same)


@cache
def _planner() -> Any:  # The module, by its name alone, so that nothing loads it sooner.
    """Loaded when first asked: the compiled search is of no use to a process that only shows pages. It is more than all
    else that a page's process holds.
    """
    planner = import_module("scheduler.planner")
    set_aside_what_stays()
    return planner


@lru_cache(maxsize=2000)
def _asked(day: Day) -> Answer:
    """The best simple rule where it places every jar and begins at once, else what the search finds.

    No plan when a jar finds no place, or when the judge has anything against it.
    """
    planner = _planner()
    plans: list[Plan] = list(planner.simple_rules(day).values())
    best = min(plans, key=lambda plan: tuple(level.value for level in plan.levels))
    if best.left_out or min(task.start for task in best.tasks) > day.batches[0].arrival:
        best = planner.plan(day, seconds=planner.FORMING_SECONDS, seed=0, clock=monotonic, prove=False)
    for left in best.left_out:
        remedy = "" if left.code in _FOR_WHAT_IF else left.remedy
        return Answer(plan=None, reason=left.reason, remedy=remedy)
    for found in judge(day, best):
        return Answer(plan=None, reason=found.message)
    return Answer(plan=best)
