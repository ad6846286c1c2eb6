"""Questions, answers and what-ifs as plain values, to be kept beside their jobs, and back again."""

from __future__ import annotations

from functools import cache

from pydantic import TypeAdapter, ValidationError

from kitchen.errors import PlanOutOfDate
from scheduler.plan import Plan
from scheduler.problem import Day
from scheduler.what_if.answer import WhatIf


def dump_day(day: Day) -> object:
    """The question as plain values, to be kept beside its answer."""
    return _days().dump_python(day, mode="json")


def read_day(dumped: object) -> Day:
    """The question that was kept."""
    return _days().validate_python(dumped)


def dump_plan(plan: Plan) -> object:
    """The answer as plain values."""
    return _plans().dump_python(plan, mode="json")


def read_plan(dumped: object) -> Plan:
    """The answer that was kept. ``PlanOutOfDate`` when an older release wrote it in another form."""
    try:
        return _plans().validate_python(dumped)
    except ValidationError as error:
        raise PlanOutOfDate("This plan was kept in an older form.", remedy="Plan the day again.") from error


def dump_what_if(found: WhatIf) -> object:
    """Answers to what-if as plain values."""
    return _what_ifs().dump_python(found, mode="json")


def read_what_if(dumped: object) -> WhatIf:
    """The answers that were kept. ``PlanOutOfDate`` when an older release wrote them in another form."""
    try:
        return _what_ifs().validate_python(dumped)
    except ValidationError as error:
        raise PlanOutOfDate("These answers were kept in an older form.", remedy="Ask again.") from error


@cache
def _days() -> TypeAdapter[Day]:
    return TypeAdapter(Day)


@cache
def _what_ifs() -> TypeAdapter[WhatIf]:
    return TypeAdapter(WhatIf)


@cache
def _plans() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)
