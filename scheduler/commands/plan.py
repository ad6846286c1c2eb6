"""``python -m scheduler plan``: plan a day and print it."""

from __future__ import annotations

import time
from argparse import ArgumentTypeError, Namespace
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from scheduler.agenda import to_ics
from scheduler.chart import chart_svg
from scheduler.commands.arguments import DONE, REFUSED, Arguments, answer_refusal, read_arguments
from scheduler.commands.files import day_in, write_file
from scheduler.commands.judge import violations_text
from scheduler.day_text import day_text
from scheduler.errors import SchedulerError
from scheduler.judge import judge
from scheduler.plan import Plan
from scheduler.plan_agenda import plan_entries
from scheduler.plan_file import plan_json
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.what_if.ask import what_if
from scheduler.what_if.trials import Usual
from scheduler.what_if_text import what_if_text

_DEFAULT_SECONDS = 10.0
_WHAT_IF_SECONDS = 60.0
_MOST_SECONDS = 3600.0


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Plan, judge, write and print. 0 when done, 1 when refused or when the judge finds fault, 2 on wrong usage.

    Nothing is written of a plan that breaks a rule.
    """
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    try:
        day = day_in(arguments.day)
        planned = plan(day, seconds=arguments.seconds, seed=arguments.seed, clock=time.monotonic)
        violations = judge(day, planned)
        if violations:
            err.write(
                f"The plan breaks a rule, so it is not shown. Please report this.\n{violations_text(violations)}"
            )
            return REFUSED
        _write_files(arguments, day, planned)
    except SchedulerError as refusal:
        return answer_refusal(refusal, as_json=False, out=out, err=err)
    out.write(day_text(day, planned))
    if arguments.what_if:
        out.flush()
        usual = Usual(seconds=arguments.seconds, seed=arguments.seed)
        found = what_if(day, planned, usual=usual, seconds=arguments.what_if_seconds, clock=time.monotonic)
        out.write(f"\n{what_if_text(day, found)}")
    return DONE


def seconds(text: str) -> float:
    """A number of seconds from 0 up to an hour, as an argument."""
    try:
        value = float(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is not a number of seconds") from None
    if not 0 <= value <= _MOST_SECONDS:
        raise ArgumentTypeError(f"{text} is not from 0 to {_MOST_SECONDS:g} seconds")
    return value


def _write_files(arguments: Namespace, day: Day, planned: Plan) -> None:
    if arguments.json is not None:
        write_file(arguments.json, plan_json(planned, day))
    if arguments.ics is not None:
        entries = plan_entries(day, planned, last_modified=datetime.now(UTC))
        write_file(arguments.ics, to_ics(f"{day.kitchen}, {day.date}", entries))
    if arguments.svg is not None:
        write_file(arguments.svg, chart_svg(day, planned))


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler plan", description="Plan a day, have it judged, and print it as text."
    )
    parser.add_argument("day", type=Path, metavar="DAY.toml", help="the day file; 'schema' describes it")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the plan for programs and the judge")
    parser.add_argument("--ics", type=Path, metavar="FILE", help="write loads and seal checks as a calendar")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="write the day as a chart")
    parser.add_argument(
        "--seconds",
        type=seconds,
        default=_DEFAULT_SECONDS,
        metavar="N",
        help="effort and time limit (default 10)",
    )
    parser.add_argument(
        "--what-if",
        action="store_true",
        help="look for changes that would place what is left out or late, by planning again",
    )
    parser.add_argument(
        "--what-if-seconds",
        type=seconds,
        default=_WHAT_IF_SECONDS,
        metavar="N",
        help="time limit of --what-if (default 60)",
    )
    parser.add_argument(
        "--seed", type=int, default=1, metavar="N", help="the same seed gives the same plan (default 1)"
    )
    return parser
