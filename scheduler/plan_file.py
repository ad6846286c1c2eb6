"""A plan as a JSON file: written for other programs and for the judge, read back exactly."""

from __future__ import annotations

import json
from datetime import date, datetime
from functools import cache
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from scheduler.errors import BadPlanFile
from scheduler.plan import Plan
from scheduler.problem import Day

FORMAT: Final = "kitchen-plan-1"
"""Names the shape of the file; it changes when a reader of the old shape would misread the new one."""

# A typing guard, not a figure of the trade: no plan reaches further than this from its day.
_MOST_MINUTES = 100 * 24 * 60
_AGAIN = "Write the plan again with: python -m scheduler plan DAY.toml --json PLAN.json"


class _PlanFile(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)

    format: Literal["kitchen-plan-1"]
    kitchen: str
    date: date
    time_zone: str
    origin: datetime
    plan: Annotated[Plan, Field(description="Times are whole minutes since the origin.")]


def plan_json(plan: Plan, day: Day) -> str:
    """The plan with the day's name, date and origin, so that its minutes can be read without the day file."""
    file = _PlanFile(
        format=FORMAT,
        kitchen=day.kitchen,
        date=day.date,
        time_zone=day.time_zone,
        origin=day.origin,
        plan=plan,
    )
    return json.dumps(_adapter().dump_python(file, mode="json"), indent=2, ensure_ascii=False) + "\n"


def read_plan(text: str) -> Plan:
    """The plan that ``plan_json`` wrote. ``BadPlanFile`` says where the file is wrong.

    Whether the plan keeps the rules is the judge's to say. Refused here is only what is no plan at all: other keys,
    other types, a piece of work that ends before it starts.
    """
    try:
        file = _adapter().validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = _where(first["loc"])
        said = first["msg"][:1].lower() + first["msg"][1:]
        raise BadPlanFile(f"{where or 'The file'} cannot be read: {said}.", remedy=_AGAIN) from None
    _check_times(file.plan)
    return file.plan


@cache
def _adapter() -> TypeAdapter[_PlanFile]:
    return TypeAdapter(_PlanFile)


def _check_times(plan: Plan) -> None:
    pieces = [(f"plan.tasks[{place}]", one.start, one.end) for place, one in enumerate(plan.tasks)]
    pieces += [
        (f"plan.assignments[{place}]", one.start, one.end) for place, one in enumerate(plan.assignments)
    ]
    for place, load in enumerate(plan.loads):
        where = f"plan.loads[{place}]"
        if not load.phases:
            raise BadPlanFile(f"{where} has no phases.", remedy=_AGAIN)
        pieces += [(f"{where}.phases[{step}]", one.start, one.end) for step, one in enumerate(load.phases)]
        if load.stand is not None:
            pieces.append((f"{where}.stand", load.stand.start, load.stand.end))
        last = max(load.first_call, load.seal_check, load.reprocess_by)
        pieces.append(
            (f"{where}.first_call", min(load.first_call, load.seal_check, load.reprocess_by), last + 1)
        )
    for where, start, end in pieces:
        if end <= start:
            raise BadPlanFile(f"{where} ends at {end}, not after its start at {start}.", remedy=_AGAIN)
        if start < -_MOST_MINUTES or end > _MOST_MINUTES:
            raise BadPlanFile(f"{where} lies too far from the day.", remedy=_AGAIN)


def _where(path: tuple[str | int, ...]) -> str:
    """``plan.loads[0].phases[2].kind``, counted from 0 as in the file."""
    text = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in path)
    return text.removeprefix(".")
