"""``python -m scheduler foods``: the foods that have published processes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TextIO

from scheduler.commands.arguments import DONE, Arguments, answer_refusal, read_arguments
from scheduler.errors import SchedulerError
from scheduler.foods import foods
from scheduler.yields import units_for


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """List every food: its id, its printed name and the units its jars can be reckoned from."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    try:
        listed = [(food, [str(unit) for unit in units_for(food.id)]) for food in foods()]
    except SchedulerError as refusal:
        return answer_refusal(refusal, as_json=arguments.json, out=out, err=err)
    if arguments.json:
        objects = [
            {"food": food.id, "name": food.name, "guide": food.guide, "units": units}
            for food, units in listed
        ]
        out.write(json.dumps(objects, indent=2) + "\n")
    else:
        width = max(len(food.id) for food, _ in listed)
        out.writelines(f"{food.id:{width}}  {food.name} [{', '.join(units)}]\n" for food, units in listed)
    return DONE


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler foods", description="List the foods with published processes."
    )
    parser.add_argument("--json", action="store_true", help="print objects instead of text")
    return parser
