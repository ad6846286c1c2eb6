"""``python -m scheduler bench rota``: rotas of made-up days against what is proven, and against loads planned first.

For each day it prints how evenly the work is spread, and what would come of planning the loads by heads alone and
looking for people afterwards. ``--missing`` takes people away, so that hands are short.
"""

from __future__ import annotations

import time
from argparse import ArgumentTypeError
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TextIO

from scheduler.commands.arguments import DONE, REFUSED, read_arguments
from scheduler.commands.bench_options import made_up_days
from scheduler.commands.judge import violations_text
from scheduler.generator import random_day
from scheduler.judge import Violation, judge
from scheduler.plan import Plan
from scheduler.planner import loads_then_rota, plan
from scheduler.problem import Day
from scheduler.rota.bound import Measured, measure
from scheduler.rota.of_plan import rota_of
from scheduler.rota.solve import TRIES_PER_SECOND, draw_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A made-up day planned both ways, and the rota of the first drawn up anew."""

    joint: Plan
    after: Plan | None
    rota: Measured
    rota_seconds: float
    violations: tuple[Violation, ...]

    @property
    def better(self) -> int:
        """1 when planning both together leaves out fewer jars or is less late, -1 when it is worse, else 0."""
        ours, theirs = _first_levels(self.joint), _first_levels(self.after or self.joint)
        return (ours < theirs) - (ours > theirs)


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a line for each day. 0 when every plan keeps the rules and none is worse than loads planned first."""
    parser = made_up_days("rota", "Measure rotas on made-up days.")
    parser.add_argument(
        "--missing", type=_share, default=0, metavar="PERCENT", help="so many of a hundred people are away"
    )
    parser.add_argument(
        "--rota-seconds", type=float, default=5.0, metavar="N", help="effort of the rota alone (default 5)"
    )
    parser.add_argument(
        "--no-comparison",
        action="store_true",
        help="do not plan the loads first as well, which takes long on XL",
    )
    arguments = read_arguments(parser, argv, out, err)
    if isinstance(arguments, int):
        return arguments
    drawn: list[Drawn] = []
    for seed in range(1, arguments.seeds + 1):
        day = short_handed(random_day(seed, arguments.size), arguments.missing)
        one = draw(day, seed, arguments.seconds, arguments.rota_seconds, compare=not arguments.no_comparison)
        drawn.append(one)
        out.write(f"{arguments.size} seed {seed}, {len(day.people)} people: {_line(one)}\n")
        out.flush()
        if one.violations:
            err.write(violations_text(one.violations))
    out.write(_summary(drawn))
    bad = any(one.violations or one.better < 0 or one.rota.unfilled_minutes for one in drawn)
    return REFUSED if bad else DONE


def draw(day: Day, seed: int, plan_seconds: float, rota_seconds: float, *, compare: bool = True) -> Drawn:
    """Plan a day, to ``compare`` both ways, and draw its rota up with the given effort."""
    joint = plan(day, seconds=plan_seconds, seed=seed, clock=time.monotonic)
    after = loads_then_rota(day, seconds=plan_seconds, seed=seed, clock=time.monotonic) if compare else None
    begun = time.monotonic()
    rota = rota_of(day, joint.loads, joint.tasks, joint.assignments)
    tries = int(rota_seconds * TRIES_PER_SECOND)
    taken = draw_up(rota.question, rota.first, rota.first, tries=tries, seed=seed)
    elapsed = time.monotonic() - begun
    return Drawn(
        joint=joint,
        after=after,
        rota=measure(rota.question, taken),
        rota_seconds=elapsed,
        violations=(*judge(day, joint), *(judge(day, after) if after else ())),
    )


def short_handed(day: Day, percent: int) -> Day:
    """The day without so many of a hundred of its people: the last ones, and one trained where there are three."""
    stay = len(day.people) - len(day.people) * percent // 100
    trained = [person for person in day.people if person.trained]
    gone = {trained[-1].id} if percent and len(trained) > 2 else set()
    return replace(day, people=tuple(one for one in day.people[:stay] if one.id not in gone))


def _first_levels(planned: Plan) -> tuple[int, int]:
    return planned.levels[0].value, planned.levels[1].value


def _line(one: Drawn) -> str:
    ours = _first_levels(one.joint)
    theirs = (
        "not planned" if one.after is None else "left out {}, late {} min".format(*_first_levels(one.after))
    )
    rota = one.rota
    return (
        f"unfilled {rota.unfilled_minutes} min (at least {rota.unfilled_bound}), spread {rota.spread_minutes:.0f} min "
        f"(at least {rota.spread_bound:.0f}, gap {rota.gap:.1%}) in {one.rota_seconds:.1f} s; together: left out "
        f"{ours[0]}, late {ours[1]} min; loads first: {theirs}; "
        f"{len(one.violations)} violations"
    )


def _summary(drawn: Sequence[Drawn]) -> str:
    gaps = [one.rota.gap for one in drawn]
    mean = f"{len(drawn)} days: mean gap of the spread {sum(gaps) / len(gaps):.1%}"
    if any(one.after is None for one in drawn):
        return f"{mean}\n"
    return (
        f"{mean}; planned together better on "
        f"{sum(one.better > 0 for one in drawn)}, as good on {sum(one.better == 0 for one in drawn)}, worse on "
        f"{sum(one.better < 0 for one in drawn)}\n"
    )


def _share(text: str) -> int:
    if not text.isdecimal() or not 0 <= int(text) <= 80:
        raise ArgumentTypeError(f"{text!r} is not a whole number from 0 to 80")
    return int(text)
