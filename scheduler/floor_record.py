"""From what was recorded at a canner to the state of its load: the phases that were, then those to be expected."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from scheduler.cycle import PhaseKind
from scheduler.floor import Begun, Floor, Lost, LostJars, Prepared
from scheduler.floor_unloading import one_after_the_other, with_phases, work_after
from scheduler.plan import Load, Phase, Plan, Task, TaskKind
from scheduler.problem import Day

_WORK_BEFORE = frozenset({TaskKind.PREP, TaskKind.KETTLE, TaskKind.FILL})


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What is known of a load that has begun, in minutes since the day's origin.

    ``ended`` gives for each phase that is over when it ended. ``lost`` are the minutes at which pressure or boil was
    lost, ``reached`` when it was last reached again; None while it is lost, or when it never was. ``is_assumed`` when
    nobody recorded anything and only the plan had it begin: that counts for nothing where its canner was not free.
    """

    ended: Mapping[PhaseKind, int] = field(default_factory=dict)
    lost: tuple[int, ...] = ()
    reached: int | None = None
    deviation: str | None = None
    on_hold: bool = False
    settled: bool = False
    is_assumed: bool = False
    target_reading_psi: float | None = None


_ENDS_UNDER_PRESSURE: Mapping[str, PhaseKind] = {
    "loaded": PhaseKind.LOADING,
    "steady_steam": PhaseKind.HEAT_UP,
    "weight_on": PhaseKind.VENT,
    "at_pressure": PhaseKind.PRESSURE_UP,
    "heat_off": PhaseKind.PROCESS,
    "zero_pressure": PhaseKind.COOL_DOWN,
    "lid_off": PhaseKind.REST,
    "jars_out": PhaseKind.UNLOADING,
}
_ENDS_IN_THE_OPEN: Mapping[str, PhaseKind] = {
    "loaded": PhaseKind.LOADING,
    "full_boil": PhaseKind.HEAT_UP,
    "heat_off": PhaseKind.PROCESS,
    "jars_out": PhaseKind.UNLOADING,
}
_REACHED = frozenset({"at_pressure", "full_boil"})
_LOST = frozenset({"pressure_lost", "boil_lost"})


LINES = tuple(dict.fromkeys((*_ENDS_UNDER_PRESSURE, *_ENDS_IN_THE_OPEN, *sorted(_REACHED | _LOST))))
"""Every line that a process record may have."""


def as_planned(before: Plan, now: int) -> Iterator[tuple[str, Record]]:
    """The record of every load whose filling was to begin by now, when all of it ran as planned."""
    filled = {task.load_id for task in before.tasks if task.kind is TaskKind.FILL and task.start <= now}
    for load in before.loads:
        if load.id in filled:
            ended = {phase.kind: phase.end for phase in load.phases if phase.end <= now}
            yield load.id, Record(ended=ended, is_assumed=True)


def record_of(lines: Iterable[tuple[str, int]], *, under_pressure: bool) -> Record:
    """What the lines of a process record say: which phase each ended, and when pressure or boil was lost and reached.

    A line is what happened, in the words of the run sheet, and its minute; lines come in the order of the clock.
    """
    ends = _ENDS_UNDER_PRESSURE if under_pressure else _ENDS_IN_THE_OPEN
    ended: dict[PhaseKind, int] = {}
    lost: list[int] = []
    reached: int | None = None
    for what, minute in lines:
        if what in _LOST:
            lost.append(minute)
            reached = None
        elif what in _REACHED and lost:
            reached = minute
        elif what in ends:
            ended[ends[what]] = minute
    return Record(ended=ended, lost=tuple(lost), reached=reached)


def floor_of(
    day: Day, before: Plan, now: int, records: Mapping[str, Record], lost: Iterable[Lost] = ()
) -> Floor:
    """The state of the floor from the plan that was being run and the records of its loads, by load id.

    Work that the plan had begin before now, for a load that has not begun, counts as begun when it was planned.
    """
    gone = tuple(lost)
    failed = {one.canner_id for one in gone}
    begun = one_after_the_other(day, list(_begun(before, now, records, failed, day.policy.cleaning_minutes)))
    told = {one.load.id for one in begun} | {one.load_id for one in gone}
    waiting = {load.id: load for load in before.loads if load.id not in told}
    prepared = tuple(
        Prepared(task=task, jars=_jars(waiting[task.load_id], task.batch_id))
        for task in before.tasks
        if task.load_id in waiting and task.start < now and task.kind in (TaskKind.PREP, TaskKind.KETTLE)
    )
    return Floor(now=now, begun=begun, prepared=prepared, lost=gone)


def _begun(
    before: Plan, now: int, records: Mapping[str, Record], failed: Collection[str], cleaning_minutes: int
) -> Iterator[Begun]:
    free_from: dict[str, int] = {}
    for load in sorted(before.loads, key=lambda one: one.phases[0].start):
        record = records.get(load.id)
        if record is None:
            continue
        one = as_begun(before, load, record, now, cleaning_minutes)
        is_free = load.canner_id not in failed and one.began >= free_from.get(load.canner_id, one.began)
        if is_free or not record.is_assumed:
            free_from[load.canner_id] = max(one.load.jars_out, *(task.end for task in one.tasks))
            yield one


def as_begun(before: Plan, load: Load, record: Record, now: int, cleaning_minutes: int) -> Begun:
    """The state of one load: its phases and its work as they were, then as they are to be expected."""
    phases, clock_from = _phases(load, record, now)
    reading = load.target_reading_psi if record.target_reading_psi is None else record.target_reading_psi
    now_load = replace(
        with_phases(load, phases),
        interruptions=record.lost,
        deviation=None if record.settled else record.deviation,
        on_hold=record.on_hold,
        target_reading_psi=reading,
    )
    own = (_task_of(task, now_load) for task in before.tasks if task.load_id == load.id)
    tasks = work_after(own, now_load, cleaning_minutes)
    over = max((place for place, phase in enumerate(phases, 1) if phase.kind in record.ended), default=0)
    return Begun(load=now_load, tasks=tasks, over=over, clock_from=clock_from, settled=record.settled)


def lost_load(before: Plan, load_id: str, reason: str, *, is_fill_known: bool) -> Lost:
    """A load that lost its canner before its process ended; the plan's fill counts when somebody vouches for it."""
    load = before.load(load_id)
    fills = [task.start for task in before.tasks if task.load_id == load_id and task.kind is TaskKind.FILL]
    return Lost(
        load_id=load_id,
        canner_id=load.canner_id,
        number=load.number,
        jars=tuple(LostJars(batch_id=one.batch_id, jars=one.jars) for one in load.portions),
        reason=reason,
        filled_from=min(fills) if is_fill_known and fills else None,
    )


def _phases(load: Load, record: Record, now: int) -> tuple[tuple[Phase, ...], int | None]:
    first = load.phases[0]
    start = min(first.start, record.ended.get(first.kind, first.end) - 1)
    found: list[Phase] = []
    clock_from: int | None = None
    for place, phase in enumerate(load.phases):
        is_over = any(one.kind in record.ended for one in load.phases[place:])
        if phase.kind is PhaseKind.PROCESS and not is_over:
            clock_from = _clock_from(load, record, start, now)
            end = max(clock_from + load.process_minutes, now + 1)
        else:
            end = _end(load.phases, place, record.ended, start, now)
        if phase.kind is PhaseKind.PROCESS and clock_from is None and record.lost:
            clock_from = record.reached
        found.append(Phase(kind=phase.kind, start=start, end=end))
        start = end
    return tuple(found), clock_from


def _end(phases: Sequence[Phase], place: int, ended: Mapping[PhaseKind, int], start: int, now: int) -> int:
    """When a phase ended, or is to be expected to end; a forgotten line is made good from those after it."""
    phase = phases[place]
    if phase.kind in ended:
        return max(ended[phase.kind], start + 1)
    usual = start + phase.end - phase.start
    later = [
        (ended[one.kind], steps) for steps, one in enumerate(phases[place + 1 :], 1) if one.kind in ended
    ]
    if later:
        minute, steps = later[0]
        # Lifting the jars out takes a moment: all the time before it may have been rest.
        return max(start + 1, min(usual, minute - steps + 1))
    return max(usual, now + 1)


def _clock_from(load: Load, record: Record, start: int, now: int) -> int:
    """When the process clock last began: after a loss it is when pressure or boil is reached again (rule S6)."""
    if not record.lost:
        return start
    if record.reached is not None and record.reached >= max(record.lost):
        return record.reached
    again = load.phase(PhaseKind.PRESSURE_UP) or load.phase(PhaseKind.HEAT_UP)
    return max(now, *record.lost) + (again.end - again.start if again else 1)


def _task_of(task: Task, load: Load) -> Task:
    heat_up, process = load.phase(PhaseKind.HEAT_UP), load.phase(PhaseKind.PROCESS)
    if task.kind in _WORK_BEFORE:
        end = min(task.end, load.phases[0].end)
        return replace(task, start=min(task.start, end - 1), end=end)
    if task.kind is TaskKind.WATCH and heat_up is not None and process is not None:
        return replace(task, start=heat_up.start, end=process.end)
    return task


def _jars(load: Load, batch_id: str | None) -> int:
    return sum(portion.jars for portion in load.portions if portion.batch_id == batch_id)
