"""``python -m scheduler bench days``: the planner against simple rules and proven bounds, on made-up days.

The days come from ``scheduler.generator``: the same seed and size are the same day everywhere. Every plan, also that of
a simple rule, goes past the judge.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TextIO

from scheduler.commands.arguments import DONE, REFUSED, read_arguments
from scheduler.commands.bench_options import made_up_days
from scheduler.commands.judge import violations_text
from scheduler.generator import Size, random_day
from scheduler.judge import judge
from scheduler.plan import Level, Plan
from scheduler.planner import plan, simple_rules
from scheduler.problem import Day

# Places among a plan's levels.
_LATENESS, _LAST_OUT = 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One made-up day: the plan of each simple rule, ours, and how long ours and the first valid plan took."""

    size: Size
    seed: int
    day: Day
    simple: Mapping[str, Plan]
    ours: Plan
    elapsed_seconds: float
    first_plan_seconds: float

    @property
    def best_simple(self) -> Plan:
        """The simple rule's plan that is best, level by level."""
        return min(self.simple.values(), key=_values)

    @property
    def is_never_worse(self) -> bool:
        """True when ours is at least as good as every simple rule, level by level."""
        return _values(self.ours) <= _values(self.best_simple)


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a table for each day. 0 when every plan keeps the rules and none of ours is worse, else 1."""
    arguments = read_arguments(made_up_days("days", "Measure the planner on made-up days."), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    status = DONE
    days: list[Measured] = []
    for seed in range(1, arguments.seeds + 1):
        measured = measure(arguments.size, seed, arguments.seconds)
        out.write("\n".join(_lines(measured)) + "\n\n")
        out.flush()
        faults = "".join(_faults(measured))
        if faults:
            err.write(faults)
            status = REFUSED
        days.append(measured)
    out.write("\n".join(_summary(arguments.size, days)) + "\n")
    return status


def measure(size: Size, seed: int, limit_seconds: float) -> Measured:
    """Plan one made-up day by every simple rule and by the planner."""
    day = random_day(seed, size)
    first: list[float] = []
    begun = time.monotonic()
    ours = plan(
        day,
        seconds=limit_seconds,
        seed=seed,
        clock=time.monotonic,
        on_progress=lambda _: first.append(time.monotonic() - begun),
    )
    elapsed = time.monotonic() - begun
    return Measured(
        size=size,
        seed=seed,
        day=day,
        simple=simple_rules(day),
        ours=ours,
        elapsed_seconds=elapsed,
        first_plan_seconds=first[0],
    )


def _values(one: Plan) -> tuple[int, ...]:
    return tuple(level.value for level in one.levels)


def _faults(measured: Measured) -> Iterator[str]:
    for name, one in {**measured.simple, "ours": measured.ours}.items():
        violations = judge(measured.day, one)
        if violations:
            yield f"{measured.size} {measured.seed}, {name}:\n{violations_text(violations)}"
    if not measured.is_never_worse:
        yield f"{measured.size} {measured.seed}: ours is worse than a simple rule\n"


def _lines(measured: Measured) -> Iterator[str]:
    made = measured.ours.provenance
    yield (
        f"{measured.size} seed {measured.seed}: {len(measured.day.batches)} batches, "
        f"{len(measured.day.canners)} canners, first plan in {measured.first_plan_seconds:.2f} s, "
        f"{measured.elapsed_seconds:.1f} s, "
        f"{made.iterations} tries, {made.stopped_because}"
    )
    names = list(measured.simple)
    widths = [max(9, len(name)) for name in names]
    heads = "  ".join(f"{name:>{width}}" for name, width in zip(names, widths, strict=True))
    yield f"  {'level':<14}  {heads}  {'ours':>9}  {'bound':>9}  {'gap':>6}  {'ratio':>6}"
    for place, level in enumerate(measured.ours.levels):
        rules = "  ".join(
            f"{measured.simple[name].levels[place].value:>{width}}"
            for name, width in zip(names, widths, strict=True)
        )
        ratio = _ratio(level, measured.best_simple.levels[place])
        yield (
            f"  {level.name:<14}  {rules}  {level.value:>9}  {level.bound:>9}  {level.gap:>6.1%}  {ratio:>6}"
        )


def _ratio(ours: Level, simple: Level) -> str:
    """Ours as a share of the best simple rule's value."""
    return "-" if simple.value == 0 else f"{ours.value / simple.value:.3f}"


def _summary(size: Size, days: Sequence[Measured]) -> Iterator[str]:
    """What holds over all days: how often better, how near the last hour is to its bound, how much less lateness."""
    better = sum(_values(one.ours) < _values(one.best_simple) for one in days)
    yield f"{len(days)} days of size {size}: better than every simple rule on {better}"
    gaps = [one.ours.levels[_LAST_OUT].gap for one in days]
    first = max(one.first_plan_seconds for one in days)
    yield f"mean gap of the last jar out: {sum(gaps) / len(gaps):.2%}; first plan within {first:.2f} s"
    ours = [one.ours.levels[_LATENESS].value for one in days]
    simple = [one.best_simple.levels[_LATENESS].value for one in days]
    above = sum(mine > rule for mine, rule in zip(ours, simple, strict=True))
    share = "-" if not sum(simple) else f"{sum(ours) / sum(simple):.1%}"
    yield f"mean lateness: {share} of the best simple rule's; above it on {above} days"
