"""``python -m scheduler judge``: does a plan keep every rule?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from textwrap import fill
from typing import TextIO

from scheduler.caution import CAUTION
from scheduler.commands.arguments import DONE, REFUSED, Arguments, answer_refusal, read_arguments
from scheduler.commands.files import day_in, plan_in
from scheduler.errors import SchedulerError
from scheduler.judge import judge
from scheduler.rules.case import Violation


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print each violation with its rule. 0 when there is none, 1 when there is one, 2 on wrong usage."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    try:
        violations = judge(day_in(arguments.day), plan_in(arguments.plan))
    except SchedulerError as refusal:
        return answer_refusal(refusal, as_json=False, out=out, err=err)
    if not violations:
        out.write(f"The plan keeps every rule.\n\n{fill(CAUTION, 100)}\n")
        return DONE
    out.write(violations_text(violations))
    return REFUSED


def violations_text(violations: Iterable[Violation]) -> str:
    """A line for each violation: the rule, the load where there is one, and what is wrong."""
    return "".join(
        f"{found.rule}{f', load {found.load_id}' if found.load_id else ''}: {found.message}\n"
        for found in violations
    )


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler judge", description="Check a plan against its day, rule by rule."
    )
    parser.add_argument("day", type=Path, metavar="DAY.toml", help="the day file")
    parser.add_argument("plan", type=Path, metavar="PLAN.json", help="what 'plan --json' wrote")
    return parser
