"""``python -m scheduler bench judged``: made-up days with everything a kitchen may say, planned and judged.

Beside the violations it counts in how many plans each thing really came to bear, so that a silence means something.
"""

from __future__ import annotations

import time
from argparse import ArgumentTypeError
from collections import Counter
from collections.abc import Callable, Sequence
from typing import TextIO

from scheduler.came_to_bear import FEATURES
from scheduler.commands.arguments import DONE, REFUSED, Arguments, read_arguments
from scheduler.commands.judge import violations_text
from scheduler.commands.judged_rotas import judge_rotas
from scheduler.commands.plan import seconds
from scheduler.disruptions import Disruption, disrupt
from scheduler.errors import BadDay, FloorUnsettled
from scheduler.every_feature import every_feature_day
from scheduler.judge import judge
from scheduler.plan import Plan
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.replan import replan

_MOST_SEEDS = 1_000_000
_REST_SECONDS = 0.1

Planner = Callable[[Day, float, int], Plan]


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a line each hundred days, then what the days held. 0 when the judge finds no fault, else 1."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    if arguments.rotas:
        good = judge_rotas(
            arguments.rotas, arguments.first, arguments.seconds, out, err, planner=planned_by_effort
        )
        return DONE if good else REFUSED
    seeds = range(arguments.first, arguments.first + arguments.seeds)
    good = judge_all(seeds, arguments.seconds, out, err, rests=arguments.rests)
    return DONE if good else REFUSED


def planned_by_effort(day: Day, effort_seconds: float, seed: int) -> Plan:
    """Only effort ends it: the same seed is the same plan, and a fault can be looked at again."""
    return plan(day, seconds=effort_seconds, seed=seed, clock=lambda: 0.0, prove=False)


def judge_all(
    seeds: Sequence[int],
    effort_seconds: float,
    out: TextIO,
    err: TextIO,
    *,
    rests: bool = False,
    planner: Planner = planned_by_effort,
) -> bool:
    """Plan and judge the days of these seeds; True without fault. ``rests``: disrupt each and judge its rest too."""
    begun = time.monotonic()
    counts: Counter[str] = Counter()
    seen: Counter[str] = Counter()
    for number, seed in enumerate(seeds, start=1):
        day = every_feature_day(seed)
        planned = planner(day, effort_seconds, seed)
        counts += _judged(day, planned, f"seed {seed}", err)
        counts["jars"] += sum(load.jars for load in planned.loads)
        counts["left"] += sum(one.jars for one in planned.left_out)
        seen.update(name for name, holds in FEATURES.items() if holds(day, planned))
        if rests and planned.loads:
            counts += _rest(day, planned, seed, err)
        if number % 100 == 0:
            out.write(f"{number} days, {counts['violations']} violations, {time.monotonic() - begun:.0f} s\n")
            out.flush()
    width = max(map(len, FEATURES))
    out.write("".join(f"  {name:{width}}  {seen[name]:6} days\n" for name in FEATURES))
    if rests:
        out.write(
            f"{counts['rests']} rests after a disruption; in {counts['unsettled']} more the lead must settle something "
            f"first, in {counts['undisturbed']} the disruption met nothing\n"
        )
    out.write(
        f"{len(seeds)} days: {counts['loads']} loads, {counts['jars']} jars placed, {counts['left']} left out; "
        f"{counts['violations']} violations in {counts['faulty']} plans\n"
    )
    return not counts["violations"]


def _judged(day: Day, planned: Plan, what: str, err: TextIO) -> Counter[str]:
    violations = judge(day, planned)
    if violations:
        err.write(f"{what}:\n{violations_text(violations)}")
    return Counter(
        {"violations": len(violations), "faulty": int(bool(violations)), "loads": len(planned.loads)}
    )


def _rest(day: Day, planned: Plan, seed: int, err: TextIO) -> Counter[str]:
    """The day after one disruption, each kind in its turn, planned again and judged."""
    disruption = list(Disruption)[seed % len(Disruption)]
    try:
        disrupted = disrupt(day, planned, disruption, seed)
    except BadDay:
        return Counter({"undisturbed": 1})
    try:
        after = replan(disrupted.day, planned, seconds=_REST_SECONDS, seed=seed, clock=lambda: 0.0)
    except FloorUnsettled:
        return Counter({"unsettled": 1})
    counts = _judged(disrupted.day, after, f"seed {seed}, {disruption}", err)
    return Counter({"rests": 1, "violations": counts["violations"], "faulty": counts["faulty"]})


def _number(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_SEEDS:
        raise ArgumentTypeError(f"{text!r} is not a whole number from 1 to {_MOST_SEEDS}")
    return int(text)


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler bench judged",
        description="Plan made-up days with everything a kitchen may say of itself, and have each plan judged.",
    )
    parser.add_argument("--seeds", type=_number, default=200, metavar="N", help="how many days (default 200)")
    parser.add_argument(
        "--first", type=_number, default=1, metavar="N", help="the seed to begin with (default 1)"
    )
    parser.add_argument(
        "--seconds", type=seconds, default=0.05, metavar="N", help="effort of each plan (default 0.05)"
    )
    parser.add_argument(
        "--rotas",
        type=_number,
        metavar="N",
        help="instead of whole plans judge so many rotas, twenty of each day, with other wishes and people missing",
    )
    parser.add_argument(
        "--rests",
        action="store_true",
        help="also disrupt each planned day, plan its rest again and judge that",
    )
    return parser
