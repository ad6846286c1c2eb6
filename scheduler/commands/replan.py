"""``python -m scheduler replan``: plan the rest of a day again from the state of the floor, and say what changes."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from scheduler.chart import chart_svg
from scheduler.commands.arguments import DONE, REFUSED, Arguments, answer_refusal, read_arguments
from scheduler.commands.files import day_in, plan_in, text_in, write_file
from scheduler.commands.judge import violations_text
from scheduler.commands.plan import seconds
from scheduler.day_text import day_text
from scheduler.difference import difference, difference_text
from scheduler.errors import SchedulerError
from scheduler.floor_file import COLUMNS, read_floor
from scheduler.judge import judge
from scheduler.plan_file import plan_json
from scheduler.replan import REPLAN_SECONDS, replan


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Plan the rest, judge, write and print. 0 when done, 1 when refused or the judge finds fault, 2 on wrong usage."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    try:
        day, before = day_in(arguments.day), plan_in(arguments.plan)
        records = f"{','.join(COLUMNS)}\n" if arguments.records is None else text_in(arguments.records)
        under_way = replace(day, floor=read_floor(records, day, before, arguments.now))
        after = replan(
            under_way, before, seconds=arguments.seconds, seed=arguments.seed, clock=time.monotonic
        )
        violations = judge(under_way, after)
        if violations:
            err.write(
                f"The plan breaks a rule, so it is not shown. Please report this.\n{violations_text(violations)}"
            )
            return REFUSED
        if arguments.json is not None:
            write_file(arguments.json, plan_json(after, under_way))
        if arguments.svg is not None:
            write_file(arguments.svg, chart_svg(under_way, after))
    except SchedulerError as refusal:
        return answer_refusal(refusal, as_json=False, out=out, err=err)
    out.write(f"WHAT CHANGES\n\n{difference_text(difference(day, before, under_way, after))}\n")
    out.write(day_text(under_way, after))
    return DONE


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler replan",
        description="Plan the rest of a day again: what has begun stays, then as much as can keep its place.",
    )
    parser.add_argument(
        "day",
        type=Path,
        metavar="DAY.toml",
        help="the day as it is now: who is there, what is brought, which canners",
    )
    parser.add_argument("plan", type=Path, metavar="PLAN.json", help="the plan that is being run")
    parser.add_argument("--now", required=True, metavar="HH:MM", help="what time it is")
    parser.add_argument(
        "--records",
        type=Path,
        metavar="FILE.csv",
        help=f"the process records, with the columns {', '.join(COLUMNS)}; without, everything ran as planned",
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the new plan for programs")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="write the new plan as a chart")
    parser.add_argument(
        "--seconds",
        type=seconds,
        default=REPLAN_SECONDS,
        metavar="N",
        help="effort and time limit (default 1)",
    )
    parser.add_argument(
        "--seed", type=int, default=1, metavar="N", help="the same seed gives the same plan (default 1)"
    )
    return parser
