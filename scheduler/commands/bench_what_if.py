"""``python -m scheduler bench what-if``: whether what-if keeps its word, on made-up days with more than they can do.

Every remedy is written into the day file, the file is read and planned again with another seed, and the plan is judged.
"""

from __future__ import annotations

import time
import tomllib
from argparse import ArgumentTypeError
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import TextIO

from scheduler.commands.arguments import DONE, REFUSED, Arguments, read_arguments
from scheduler.commands.plan import seconds
from scheduler.day_file import read_day
from scheduler.day_writing import day_toml, toml_text
from scheduler.generator import Size, random_day
from scheduler.interval import Span, intersect
from scheduler.judge import judge
from scheduler.plan import Plan
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.what_if.answer import Answer, Remedy, WhatIf
from scheduler.what_if.ask import what_if
from scheduler.what_if.edits import edited
from scheduler.what_if.standing import standings

_MOST_SEEDS = 1000
# How long the made-up kitchens are open: too short for what is brought. Hours of the generator's 14.
_OPEN_HOURS = (6, 7, 8, 9, 10)
_ANOTHER_SEED = 5000

Replanner = Callable[[Day, int], Plan]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One made-up day, its plan, and what would place what it leaves out."""

    seed: int
    day: Day
    planned: Plan
    found: WhatIf


def over_full_day(seed: int) -> Day:
    """A made-up day that closes before everything brought can be canned; the same seed gives the same day.

    Every tenth is of size M, the others of size S.
    """
    random = Random(f"over-full {seed}")  # noqa: S311 - a repeatable day, not a secret.
    day = random_day(seed, Size.M if seed % 10 == 0 else Size.S)
    opens = day.opening[0].start
    return _closing(day, opens + 60 * random.choice(_OPEN_HOURS))


def ask(seed: int, *, limit_seconds: float, effort_seconds: float) -> Asked:
    """Plan an over-full day and ask what would place the rest."""
    day = over_full_day(seed)
    planned = plan(day, seconds=effort_seconds, seed=seed, clock=time.monotonic)
    found = what_if(day, planned, seconds=limit_seconds, clock=time.monotonic)
    return Asked(seed=seed, day=day, planned=planned, found=found)


def faults(asked: Asked, replan: Replanner) -> Iterator[str]:
    """What is wrong with the firm remedies of a day, each applied to the day file and planned again."""
    for answer in asked.found.answers:
        for remedy in (one for one in answer.remedies if one.firm):
            fault = _fault(asked, answer, remedy, replan)
            if fault:
                yield f"seed {asked.seed}, batch {answer.batch_id}: {remedy.words} {fault}"


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a line for each day. 0 when every firm remedy places its batch and every plan keeps the rules, else 1."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments

    def replan(day: Day, seed: int) -> Plan:
        return plan(day, seconds=arguments.seconds, seed=seed, clock=time.monotonic)

    batches = helped = remedies = firm = failed = 0
    for seed in range(1, arguments.seeds + 1):
        begun = time.monotonic()
        asked = ask(seed, limit_seconds=arguments.limit, effort_seconds=arguments.seconds)
        elapsed = time.monotonic() - begun
        wrong = list(faults(asked, replan))
        answers = asked.found.answers
        given = [remedy for answer in answers for remedy in answer.remedies]
        out.write(
            f"seed {seed}: {len(answers)} batches left out or late, {len(given)} remedies, {len(wrong)} wrong; "
            f"{asked.found.plans} plans, {elapsed:.1f} s, {asked.found.stopped_because}\n"
        )
        out.flush()
        err.write("".join(f"{one}\n" for one in wrong))
        batches += len(answers)
        helped += sum(bool(answer.remedies) for answer in answers)
        remedies += len(given)
        firm += sum(remedy.firm for remedy in given)
        failed += len(wrong)
    out.write(
        f"{arguments.seeds} days: {helped} of {batches} batches have a remedy; "
        f"{remedies} remedies, {firm} of them firm; {firm - failed} of {firm} place the batch\n"
    )
    return REFUSED if failed else DONE


def _closing(day: Day, closes: int) -> Day:
    """The day with everything ended at this minute; who would come later does not come."""
    within = (Span(day.opening[0].start, closes),)
    return replace(
        day,
        opening=within,
        canners=tuple(replace(one, service=intersect(one.service, within)) for one in day.canners),
        people=tuple(
            replace(one, hours=hours) for one in day.people if (hours := intersect(one.hours, within))
        ),
        stations=tuple(
            replace(one, hands=tuple(replace(hands, span=within[0]) for hands in one.hands))
            for one in day.stations
        ),
        batches=tuple(
            replace(one, pickup=max(one.arrival + 60, min(one.pickup, closes))) for one in day.batches
        ),
    )


def _fault(asked: Asked, answer: Answer, remedy: Remedy, replan: Replanner) -> str:
    tables = tomllib.loads(day_toml(asked.day))
    again = read_day(toml_text(edited(tables, remedy.edits)))
    planned = replan(again, _ANOTHER_SEED + asked.seed)
    violations = judge(again, planned)
    if violations:
        return f"breaks a rule: {violations[0].message}"
    standing = standings(again, planned)[answer.batch_id]
    if standing.left:
        return f"leaves {standing.left} jars out."
    if standing.late and not answer.left:
        return f"is {standing.late} minutes late."
    return ""


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_SEEDS:
        raise ArgumentTypeError(f"{text!r} is not a whole number from 1 to {_MOST_SEEDS}")
    return int(text)


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler bench what-if",
        description="Ask what would place the batches that made-up, over-full days leave out; apply every answer to "
        "the day file, plan again with another seed, and judge.",
    )
    parser.add_argument(
        "--seeds", type=_count, default=20, metavar="N", help="days with seeds 1 to N (default 20)"
    )
    parser.add_argument(
        "--seconds", type=seconds, default=10.0, metavar="N", help="effort of each plan (default 10)"
    )
    parser.add_argument(
        "--limit", type=seconds, default=60.0, metavar="N", help="time limit of each what-if (default 60)"
    )
    return parser
