"""``python -m scheduler learn``: what recorded times teach, and what a planner would then plan with."""

from __future__ import annotations

import json
from argparse import ArgumentTypeError
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from textwrap import fill
from typing import TextIO

from scheduler.commands.arguments import DONE, Arguments, answer_refusal, read_arguments
from scheduler.commands.files import records_in
from scheduler.errors import SchedulerError
from scheduler.learning import (
    LEAST_KEPT_PERCENT,
    MOST_KEPT_PERCENT,
    PRIOR_RECORDS,
    USUAL_KEPT_PERCENT,
    Lesson,
    Measured,
    Record,
    believable,
    lesson,
    planned_minutes,
)

_HEADINGS = ("subject", "what", "usual", "records", "median", "spread", "set aside", "pace", "plans", "least")
_WORDS_UNTIL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """One subject and kind: its typical usual minutes, what was learned and what is planned with it."""

    subject: str
    kind: Measured
    usual_minutes: float
    not_counted: int
    lesson: Lesson
    planned_minutes: int
    least_minutes: int


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a line for each subject and kind. 0 when done, 1 when the file is refused, 2 on wrong usage."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    try:
        learned = learn(records_in(arguments.records), arguments.kept)
    except SchedulerError as refusal:
        return answer_refusal(refusal, as_json=arguments.json, out=out, err=err)
    if arguments.json:
        out.write(json.dumps([_object(one) for one in learned], indent=2) + "\n")
    else:
        out.write(_text(learned, arguments.kept))
    return DONE


def learn(records: Sequence[Record], kept_percent: int) -> list[Learned]:
    """What the records teach, by subject and kind in the order in which they first come."""
    groups: dict[tuple[str, Measured], list[Record]] = {}
    for record in records:
        groups.setdefault((record.subject, record.kind), []).append(record)
    return [_learned(group, kept_percent) for group in groups.values()]


def _learned(group: Sequence[Record], kept_percent: int) -> Learned:
    found = lesson(group, kept_percent)
    usual = median(record.usual_minutes for record in group)
    least = max(record.least_minutes for record in group)
    return Learned(
        subject=group[0].subject,
        kind=group[0].kind,
        usual_minutes=usual,
        not_counted=sum(not believable(record) for record in group),
        lesson=found,
        planned_minutes=planned_minutes(usual, found.pace, least),
        least_minutes=least,
    )


def _text(learned: Sequence[Learned], kept_percent: int) -> str:
    table = [_HEADINGS, *map(_cells, learned)]
    widths = [max(map(len, column)) for column in zip(*table, strict=True)]
    lines = []
    for cells in table:
        padded = (
            cell.ljust(width) if place < _WORDS_UNTIL else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(cells, widths, strict=True))
        )
        lines.append("  ".join(padded).rstrip())
    explained = (
        f"Usual is the physical estimate in minutes, the middle of the records'; it counts as {PRIOR_RECORDS} records "
        "while there are none, and less with each. Median, spread and pace are multiples of it. Plans are the minutes "
        f"that {kept_percent} of 100 loads keep, never below the least that rule S5 allows; * marks one held there. "
        "Recorded cool-downs below it were forced, and count no more than times beyond belief."
    )
    return "\n".join(lines) + f"\n\n{fill(explained, 100)}\n"


def _cells(one: Learned) -> tuple[str, ...]:
    found = one.lesson
    held = "*" if _is_held(one) else ""
    return (
        one.subject,
        one.kind.words,
        f"{one.usual_minutes:.1f}",
        str(found.records),
        "-" if found.median is None else f"{found.median:.2f}",
        "-" if found.own_spread is None else f"{found.own_spread:.0%}",
        str(found.set_aside + one.not_counted),
        f"{found.pace:.2f}",
        f"{one.planned_minutes}{held}",
        str(one.least_minutes or "-"),
    )


def _is_held(one: Learned) -> bool:
    return planned_minutes(one.usual_minutes, one.lesson.pace) < one.least_minutes


def _object(one: Learned) -> dict[str, object]:
    found = one.lesson
    return {
        "subject": one.subject,
        "kind": one.kind.value,
        "usual_minutes": round(one.usual_minutes, 2),
        "records": found.records,
        "set_aside": found.set_aside,
        "not_counted": one.not_counted,
        "median": None if found.median is None else round(found.median, 4),
        "centre": round(found.centre, 4),
        "spread": round(found.spread, 4),
        "pace": round(found.pace, 4),
        "planned_minutes": one.planned_minutes,
        "least_minutes": one.least_minutes,
        "held_at_least": _is_held(one),
    }


def _kept(text: str) -> int:
    if not text.isdecimal() or not LEAST_KEPT_PERCENT <= int(text) <= MOST_KEPT_PERCENT:
        raise ArgumentTypeError(
            f"{text!r} is not a whole number from {LEAST_KEPT_PERCENT} to {MOST_KEPT_PERCENT}"
        )
    return int(text)


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler learn",
        description="Show what recorded times teach. The file is a table in CSV with the columns subject, kind, "
        "usual_minutes, recorded_minutes and, for cool-downs, least_minutes; the kitchen's page of measured times "
        f"writes it. Kinds: {', '.join(Measured)}.",
    )
    parser.add_argument("records", type=Path, metavar="RECORDS.csv", help="the recorded times")
    parser.add_argument(
        "--kept",
        type=_kept,
        default=USUAL_KEPT_PERCENT,
        metavar="PERCENT",
        help=f"how many of 100 loads keep the planned time (default {USUAL_KEPT_PERCENT})",
    )
    parser.add_argument("--json", action="store_true", help="print objects instead of text")
    return parser
