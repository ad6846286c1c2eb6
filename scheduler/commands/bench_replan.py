"""``python -m scheduler bench replan``: made-up days planned again after one disruption, for each kind of disruption.

For every day it prints what share of the loads not begun moved, how long planning again took and what the judge found.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TextIO

from scheduler.commands.arguments import DONE, REFUSED, read_arguments
from scheduler.commands.bench_options import made_up_days
from scheduler.commands.judge import violations_text
from scheduler.disruptions import Disruption, disrupt
from scheduler.generator import Size, random_day
from scheduler.interval import covered
from scheduler.judge import Violation, judge
from scheduler.plan import Load, Plan, TaskKind
from scheduler.planner import plan
from scheduler.problem import Day
from scheduler.replan import REPLAN_SECONDS, replan
from scheduler.replan_rest import MOVED_BEYOND_MINUTES


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """One day planned again. Levels are jars left out and minutes late, before and after.

    ``homeless`` of the moved loads stood on a canner that is out of service now, so that no plan could leave them.
    """

    seed: int
    what: str
    waiting: int
    moved: int
    homeless: int
    elapsed_seconds: float
    before: tuple[int, int]
    after: tuple[int, int]
    violations: tuple[Violation, ...]

    @property
    def chosen_share(self) -> float:
        """The share moved beyond those whose canner is out of service."""
        return (self.moved - self.homeless) / self.waiting if self.waiting else 0.0

    @property
    def moved_share(self) -> float:
        """Of the loads not begun, the share that is elsewhere now, or gone."""
        return self.moved / self.waiting if self.waiting else 0.0


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a table for each disruption. 0 when every plan keeps the rules, else 1."""
    arguments = read_arguments(
        made_up_days("replan", "Measure planning again on made-up days."), argv, out, err
    )
    if isinstance(arguments, int):
        return arguments
    good = measure_all(arguments.size, arguments.seeds, arguments.seconds, out, err)
    return DONE if good else REFUSED


def measure_all(size: Size, seeds: int, plan_seconds: float, out: TextIO, err: TextIO) -> bool:
    """Print a line for each disruption and seed, and for each disruption the mean and the worst. True without fault.

    ``plan_seconds`` go into each plan that is then disrupted.
    """
    days = {}
    for seed in range(1, seeds + 1):
        day = random_day(seed, size)
        days[seed] = (day, plan(day, seconds=plan_seconds, seed=seed, clock=time.monotonic))
    good = True
    for disruption in Disruption:
        rows = [measure(day, before, disruption, seed) for seed, (day, before) in days.items()]
        for row in rows:
            out.write(f"  {_line(row)}\n")
            if row.violations:
                err.write(f"{disruption}, seed {row.seed}:\n{violations_text(row.violations)}")
                good = False
        out.write(f"{size} {disruption}: {_summary(rows)}\n")
        out.flush()
    return good


def measure(day: Day, before: Plan, disruption: Disruption, seed: int) -> Replanned:
    """Disrupt a planned day and plan the rest of it again."""
    disrupted = disrupt(day, before, disruption, seed)
    begun = time.monotonic()
    after = replan(disrupted.day, before, seconds=REPLAN_SECONDS, seed=seed, clock=time.monotonic)
    elapsed = time.monotonic() - begun
    floor = disrupted.day.floor
    told = (
        set() if floor is None else {one.load.id for one in floor.begun} | {one.load_id for one in floor.lost}
    )
    waiting = [load.id for load in before.loads if load.id not in told]
    return Replanned(
        seed=seed,
        what=disrupted.what,
        waiting=len(waiting),
        moved=sum(_moved(before, after, load_id) for load_id in waiting),
        homeless=sum(not _is_in_service(disrupted.day, before.load(load_id)) for load_id in waiting),
        elapsed_seconds=elapsed,
        before=(before.levels[0].value, before.levels[1].value),
        after=(after.levels[0].value, after.levels[1].value),
        violations=judge(disrupted.day, after),
    )


def _is_in_service(day: Day, load: Load) -> bool:
    canner = next(canner for canner in day.canners if canner.id == load.canner_id)
    return covered(load.span, canner.service)


def _moved(before: Plan, after: Plan, load_id: str) -> bool:
    """True when a load is on another canner, at another time, or gone."""
    now = next((load for load in after.loads if load.id == load_id), None)
    if now is None or now.canner_id != before.load(load_id).canner_id:
        return True
    return abs(_filled_from(after, load_id) - _filled_from(before, load_id)) > MOVED_BEYOND_MINUTES


def _filled_from(plan: Plan, load_id: str) -> int:
    return min(task.start for task in plan.tasks if task.load_id == load_id and task.kind is TaskKind.FILL)


def _line(row: Replanned) -> str:
    return (
        f"seed {row.seed}: {row.what}; {row.moved} of {row.waiting} loads moved ({row.moved_share:.1%}, "
        f"{row.homeless} from a canner out of service), "
        f"{row.elapsed_seconds:.2f} s, left out {row.before[0]} -> {row.after[0]}, late {row.before[1]} -> "
        f"{row.after[1]} min, {len(row.violations)} violations"
    )


def _summary(rows: Sequence[Replanned]) -> str:
    shares, seconds = [row.moved_share for row in rows], [row.elapsed_seconds for row in rows]
    return (
        f"moved {sum(shares) / len(rows):.1%} mean, {max(shares):.1%} worst, "
        f"{max(row.chosen_share for row in rows):.1%} beyond canners out of service; "
        f"{sum(seconds) / len(rows):.2f} s mean, {max(seconds):.2f} s worst; "
        f"{sum(len(row.violations) for row in rows)} violations"
    )
