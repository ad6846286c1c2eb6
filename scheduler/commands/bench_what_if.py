"""``python -m scheduler bench what-if``: whether what-if keeps its word, on made-up days with more than they can do.

Every remedy is written into the day file, the file is read and planned again as the day was, and the plan is judged: it
must place the batch. How many also do with another seed, which nobody has promised, is counted beside.
"""

from __future__ import annotations

import time
import tomllib
from argparse import ArgumentTypeError, Namespace
from collections import Counter
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
from scheduler.what_if.answer import EVERYTHING_TRIED, Answer, Remedy, WhatIf
from scheduler.what_if.ask import what_if
from scheduler.what_if.edits import Edit, edited
from scheduler.what_if.standing import standings
from scheduler.what_if.trials import Usual

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

    @property
    def remedies(self) -> tuple[tuple[Answer, Remedy], ...]:
        """Every remedy with the answer it stands in."""
        return tuple((answer, remedy) for answer in self.found.answers for remedy in answer.remedies)


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
    usual = Usual(seconds=effort_seconds, seed=seed)
    found = what_if(day, planned, usual=usual, seconds=limit_seconds, clock=time.monotonic)
    return Asked(seed=seed, day=day, planned=planned, found=found)


class Tried:
    """The remedies of a day, each applied to the day file and planned again; the same file is planned once a seed."""

    def __init__(self, asked: Asked, replan: Replanner) -> None:
        self._asked = asked
        self._replan = replan
        self._tables = tomllib.loads(day_toml(asked.day))
        self._made: dict[tuple[tuple[Edit, ...], int], tuple[Day, Plan]] = {}

    def faults(self) -> Iterator[str]:
        """What is wrong with the remedies when planned with the seed of the plan that was asked about."""
        for answer, remedy in self._asked.remedies:
            fault = self._fault(answer, remedy, self._asked.seed)
            if fault:
                yield f"seed {self._asked.seed}, batch {answer.batch_id}: {remedy.words} {fault}"

    def holding_otherwise(self) -> tuple[Remedy, ...]:
        """The remedies that place their batch with another seed as well, by a plan that keeps the rules."""
        seed = _ANOTHER_SEED + self._asked.seed
        return tuple(
            remedy for answer, remedy in self._asked.remedies if not self._fault(answer, remedy, seed)
        )

    def _fault(self, answer: Answer, remedy: Remedy, seed: int) -> str:
        again, planned = self._planned(remedy.edits, seed)
        violations = judge(again, planned)
        if violations:
            return f"breaks a rule: {violations[0].message}"
        standing = standings(again, planned)[answer.batch_id]
        if standing.left:
            return f"leaves {standing.left} jars out."
        if standing.late and not answer.left:
            return f"is {standing.late} minutes late."
        return ""

    def _planned(self, edits: tuple[Edit, ...], seed: int) -> tuple[Day, Plan]:
        if (edits, seed) not in self._made:
            again = read_day(toml_text(edited(self._tables, edits)))
            self._made[edits, seed] = (again, self._replan(again, seed))
        return self._made[edits, seed]


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a line for each day. 0 when every remedy places its batch and every plan keeps the rules, else 1."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments

    def replan(day: Day, seed: int) -> Plan:
        return plan(day, seconds=arguments.seconds, seed=seed, clock=time.monotonic)

    counts: Counter[str] = Counter()
    for seed in range(arguments.first, arguments.first + arguments.seeds):
        counts += _measure(seed, arguments, replan, out, err)
    out.write(_summary(arguments.seeds, counts))
    return REFUSED if counts["wrong"] else DONE


def _measure(seed: int, arguments: Namespace, replan: Replanner, out: TextIO, err: TextIO) -> Counter[str]:
    """Ask about one day, try every answer, print the day's line and return its counts."""
    begun = time.monotonic()
    asked = ask(seed, limit_seconds=arguments.limit, effort_seconds=arguments.seconds)
    elapsed = time.monotonic() - begun
    tried = Tried(asked, replan)
    wrong, otherwise = list(tried.faults()), tried.holding_otherwise()
    answers, given = asked.found.answers, [remedy for _, remedy in asked.remedies]
    out.write(
        f"seed {seed}: {len(answers)} batches left out or late, {len(given)} remedies, {len(wrong)} wrong, "
        f"{len(given) - len(otherwise)} not with another seed; "
        f"{asked.found.plans} plans, {elapsed:.1f} s, {asked.found.stopped_because}\n"
    )
    out.flush()
    err.write("".join(f"{one}\n" for one in wrong))
    return Counter(
        {
            "batches": len(answers),
            "helped": sum(bool(answer.remedies) for answer in answers),
            "cut short": int(asked.found.stopped_because != EVERYTHING_TRIED),
            "given": len(given),
            "firm": sum(remedy.firm for remedy in given),
            "wrong": len(wrong),
            "otherwise": len(otherwise),
            "firm otherwise": sum(remedy.firm for remedy in otherwise),
        }
    )


def _summary(seeds: int, counts: Counter[str]) -> str:
    given, firm = counts["given"], counts["firm"]
    return (
        f"{seeds} days, {counts['cut short']} of them cut short: {counts['helped']} of {counts['batches']} batches "
        f"have a remedy; {given} remedies, {given - counts['wrong']} of {given} place the batch\n"
        f"with another seed: {counts['otherwise']} of {given} place it, "
        f"{counts['firm otherwise']} of the {firm} that place everything in each trial\n"
    )


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


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_SEEDS:
        raise ArgumentTypeError(f"{text!r} is not a whole number from 1 to {_MOST_SEEDS}")
    return int(text)


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler bench what-if",
        description="Ask what would place the batches that made-up, over-full days leave out; apply every answer to "
        "the day file, plan again, and judge.",
    )
    parser.add_argument("--seeds", type=_count, default=20, metavar="N", help="how many days (default 20)")
    parser.add_argument(
        "--first", type=_count, default=1, metavar="N", help="the seed to begin with (default 1)"
    )
    parser.add_argument(
        "--seconds", type=seconds, default=10.0, metavar="N", help="effort of each plan (default 10)"
    )
    parser.add_argument(
        "--limit", type=seconds, default=60.0, metavar="N", help="time limit of each what-if (default 60)"
    )
    return parser
