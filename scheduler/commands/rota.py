"""``python -m scheduler rota``: draw the rota of a plan up again around people who are kept where they are."""

from __future__ import annotations

from argparse import ArgumentTypeError
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from scheduler.commands.arguments import DONE, Arguments, answer_refusal, read_arguments
from scheduler.commands.files import day_in, plan_in, write_file
from scheduler.commands.plan import seconds
from scheduler.difference import difference
from scheduler.errors import SchedulerError
from scheduler.plan_file import plan_json
from scheduler.redraw import REDRAW_SECONDS, redraw, whole
from scheduler.rota_text import rota_text


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Draw up, write and print. 0 when done, 1 when refused, 2 on wrong usage.

    The judge has passed what is written and printed.
    """
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    try:
        day, before = day_in(arguments.day), plan_in(arguments.plan)
        ids = {person.name: person.id for person in day.people}
        keep = [one for task, who in arguments.keep for one in whole(before, task, ids.get(who, who))]
        redrawn = redraw(
            day,
            before,
            keep,
            few_changes=arguments.few_changes,
            seconds=arguments.seconds,
            seed=arguments.seed,
        )
        if arguments.json is not None:
            write_file(arguments.json, plan_json(redrawn.plan, day))
    except SchedulerError as refusal:
        return answer_refusal(refusal, as_json=False, out=out, err=err)
    changes = difference(day, before, day, redrawn.plan).people
    out.write(rota_text(day, redrawn, changes, by_station=arguments.by == "station"))
    return DONE


def _kept(text: str) -> tuple[str, str]:
    task, sign, person = text.rpartition("=")
    if not (task and sign and person):
        raise ArgumentTypeError(f"{text!r} is not TASK=PERSON")
    return task, person


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler rota",
        description="Draw the rota of a plan up again around people who are kept where they are. Loads and times stay.",
    )
    parser.add_argument(
        "day", type=Path, metavar="DAY.toml", help="the day as it is now: who is there and when"
    )
    parser.add_argument(
        "plan", type=Path, metavar="PLAN.json", help="the plan with the rota that people know"
    )
    parser.add_argument(
        "--keep",
        type=_kept,
        action="append",
        default=[],
        metavar="TASK=PERSON",
        help="keep a person, by id or name, at a task: what they have of it in the plan, else put them there for "
        "all of it; may be given several times",
    )
    parser.add_argument(
        "--few-changes",
        action="store_true",
        help="change only what must change, and move nobody only to share the work out more fairly",
    )
    parser.add_argument(
        "--by", choices=("person", "station"), default="person", help="print by person (default) or station"
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the plan with its new rota")
    parser.add_argument(
        "--seconds", type=seconds, default=REDRAW_SECONDS, metavar="N", help="effort (default 1)"
    )
    parser.add_argument(
        "--seed", type=int, default=1, metavar="N", help="the same seed gives the same rota (default 1)"
    )
    return parser
