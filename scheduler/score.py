"""How good a plan is, level by level, worked out from the day and what the plan does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from scheduler.plan import LeftOut, Load, Task, TaskKind
from scheduler.problem import Day

LEVELS: tuple[tuple[str, str], ...] = (
    ("jars left out", "jars"),
    ("lateness", "minutes"),
    ("last jar out", "minutes since the day's origin"),
    ("canner time", "minutes"),
    ("loads", "loads"),
    ("changeovers", "changeovers"),
)
"""Each level's name and unit, the one that matters most first."""


def levels_of(
    day: Day, loads: Sequence[Load], tasks: Iterable[Task], left_out: Iterable[LeftOut]
) -> tuple[int, ...]:
    """The value of each of ``LEVELS``, in their order.

    The tasks are needed because a canner is taken from the start of the fill, before its first phase. Loads
    without phases have no times and add to "loads" alone.
    """
    timed = [load for load in loads if load.phases]
    filled_from = _fill_starts(tasks)
    return (
        sum(left.jars for left in left_out),
        _lateness(day, timed),
        max((load.jars_out for load in timed), default=0),
        sum(load.jars_out - _taken_from(load, filled_from) for load in timed),
        len(loads),
        _changeovers(timed),
    )


def _fill_starts(tasks: Iterable[Task]) -> dict[str, int]:
    """The start of each load's first filling: of several the earliest is written last."""
    fills = sorted((task.start, task.load_id) for task in tasks if task.kind is TaskKind.FILL)
    return {load_id: start for start, load_id in reversed(fills)}


def _taken_from(load: Load, filled_from: Mapping[str, int]) -> int:
    fill, loading = filled_from.get(load.id), load.phases[0].start
    return loading if fill is None else min(fill, loading)


def _lateness(day: Day, loads: Iterable[Load]) -> int:
    last: dict[str, int] = {}
    for load in loads:
        for portion in load.portions:
            last[portion.batch_id] = max(load.jars_out, last.get(portion.batch_id, load.jars_out))
    return sum(max(0, last[batch.id] - batch.pickup) for batch in day.batches if batch.id in last)


def _changeovers(loads: Iterable[Load]) -> int:
    by_canner: dict[str, list[Load]] = {}
    for load in sorted(loads, key=lambda one: one.phases[0].start):
        by_canner.setdefault(load.canner_id, []).append(load)
    return sum(
        _family(before) != _family(after) for row in by_canner.values() for before, after in pairwise(row)
    )


def _family(load: Load) -> tuple[str, float | None, int]:
    return load.method, load.pressure_psi, load.process_minutes
