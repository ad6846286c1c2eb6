"""Asking the planner, and having its refusals in the kitchen's words."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib import import_module

from pydantic import TypeAdapter

from kitchen.errors import BadHarvestDay
from kitchen.planning.bridge.values import dump_what_if, read_day, read_plan
from scheduler.errors import SchedulerError
from scheduler.plan import Plan
from scheduler.problem import Day
from scheduler.what_if.answer import WhatIf


def plan_day(
    day: Day,
    *,
    seconds: float,
    seed: int,
    clock: Callable[[], float],
    on_progress: Callable[[dict[str, object]], None],
    should_stop: Callable[[], bool],
) -> Plan:
    """Ask the planner. ``on_progress`` gets its newest report as plain values.

    ``BadHarvestDay`` when the planner refuses the day.
    """
    # Loaded when first asked: the compiled search is of no use to a process that only shows plans.
    planner = import_module("scheduler.planner")
    try:
        made: Plan = planner.plan(
            day,
            seconds=seconds,
            seed=seed,
            clock=clock,
            on_progress=lambda report: on_progress(_progress().dump_python(report, mode="json")),
            should_stop=should_stop,
        )
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    return made


def ask_what_if(
    dumped_day: object,
    dumped_plan: object,
    *,
    plan_seconds: float,
    plan_seed: int,
    seconds: float,
    clock: Callable[[], float],
    on_progress: Callable[[int, int], None],
    should_stop: Callable[[], bool],
) -> object:
    """What would place the jars that a kept plan leaves out or brings home late, as plain values.

    ``plan_seconds`` and ``plan_seed`` are those of the plan that is asked for once a change is made: each change found
    holds in that plan. ``seconds`` limits the search.

    ``BadHarvestDay`` when the planner refuses the day, ``PlanOutOfDate`` when the plan is of an older form.
    """
    what_if = import_module("scheduler.what_if.ask").what_if  # As for plan_day.
    usual = import_module("scheduler.what_if.trials").Usual
    try:
        found: WhatIf = what_if(
            read_day(dumped_day),
            read_plan(dumped_plan),
            usual=usual(seconds=plan_seconds, seed=plan_seed),
            seconds=seconds,
            clock=clock,
            on_progress=on_progress,
            should_stop=should_stop,
        )
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    return dump_what_if(found)


def plan_rest(
    day: Day, before: object, *, seed: int, clock: Callable[[], float], should_stop: Callable[[], bool]
) -> Plan:
    """Ask for the rest of a day under way, after the kept plan that was being run.

    ``BadHarvestDay`` for what a lead must settle first.
    """
    planner = import_module("scheduler.replan")
    try:
        made: Plan = planner.replan(
            day,
            read_plan(before),
            seconds=planner.REPLAN_SECONDS,
            seed=seed,
            clock=clock,
            should_stop=should_stop,
        )
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    return made


@cache
def _progress() -> TypeAdapter[object]:
    progress: type[object] = import_module("scheduler.planner").Progress
    return TypeAdapter(progress)
