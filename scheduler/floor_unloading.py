"""Jars of loads under way are lifted out one load after the other, where hands are few.

A load may always rest longer in its canner, with the heat off and the pressure gone (rule S4 gives a least).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from scheduler.cycle import PhaseKind
from scheduler.floor import Begun
from scheduler.plan import Load, Phase, Task, TaskKind
from scheduler.problem import (
    LEAST_STAND_MINUTES,
    MOST_STAND_MINUTES,
    REPROCESS_WITHIN_MINUTES,
    Day,
    StationKind,
)

# Hands that come within a day; beyond it the lead has to settle who lifts the jars out.
_LONGEST_WAIT_MINUTES = 12 * 60


def one_after_the_other(day: Day, begun: Sequence[Begun]) -> tuple[Begun, ...]:
    """The same loads, each rested until there are hands at the cooling station to lift its jars out."""
    station = next((one for one in day.stations if one.kind is StationKind.COOLING), None)
    if station is None:
        return tuple(begun)
    taken: list[Phase] = []
    found: dict[str, Begun] = {}

    def hands(minute: int) -> int:
        return sum(one.count for one in station.hands if one.span.start <= minute < one.span.end)

    def is_full(start: int, end: int) -> bool:
        return any(
            sum(one.start <= minute < one.end for one in taken) >= hands(minute)
            for minute in range(start, end)
        )

    for one in sorted(
        begun, key=lambda each: (not _is_fixed(each), each.load.phases[-1].start, each.load.id)
    ):
        out = one.load.phases[-1]
        wait = 0
        if not _is_fixed(one):
            while is_full(out.start + wait, out.end + wait) and wait < _LONGEST_WAIT_MINUTES:
                wait += 1
        wait = 0 if wait == _LONGEST_WAIT_MINUTES else wait
        found[one.load.id] = _rested(day, one, wait) if wait else one
        taken.append(found[one.load.id].load.phases[-1])
    return tuple(found[one.load.id] for one in begun)


def with_phases(load: Load, phases: tuple[Phase, ...]) -> Load:
    """The load with these phases, and with everything that follows from its jars being out then (rules S11, S12)."""
    out = phases[-1].end
    process_end = next(phase.end for phase in phases if phase.kind is PhaseKind.PROCESS)
    stand = load.stand
    return replace(
        load,
        phases=phases,
        stand=None if stand is None else replace(stand, start=out, end=out + stand.end - stand.start),
        first_call=out + LEAST_STAND_MINUTES,
        seal_check=out + MOST_STAND_MINUTES,
        reprocess_by=process_end + REPROCESS_WITHIN_MINUTES,
    )


def work_after(tasks: Iterable[Task], load: Load, cleaning_minutes: int) -> tuple[Task, ...]:
    """The tasks, those after the canner at the times of its load."""
    return tuple(_after(task, load, cleaning_minutes) for task in tasks)


def _after(task: Task, load: Load, cleaning_minutes: int) -> Task:
    if task.kind is TaskKind.COOLING:
        return replace(task, start=load.phases[-1].start, end=load.jars_out)
    if task.kind is TaskKind.CLEANING:
        return replace(task, start=load.jars_out, end=load.jars_out + cleaning_minutes)
    return task


def _is_fixed(one: Begun) -> bool:
    """True when nothing of its rest is left to choose."""
    return one.over >= len(one.load.phases) - 1


def _rested(day: Day, one: Begun, wait: int) -> Begun:
    *before, rest, out = one.load.phases
    later = (
        *before,
        replace(rest, end=rest.end + wait),
        replace(out, start=out.start + wait, end=out.end + wait),
    )
    load = with_phases(one.load, later)
    return replace(one, load=load, tasks=work_after(one.tasks, load, day.policy.cleaning_minutes))
