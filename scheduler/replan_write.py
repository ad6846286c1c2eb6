"""The rest of a day written out: what has begun, what stays, what was found anew, and who does it all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count

from scheduler.caution import CAUTION
from scheduler.digest import day_digest
from scheduler.errors import BadDay
from scheduler.floor import Floor
from scheduler.jars import JarSize
from scheduler.plan import Assignment, LeftOut, Level, Load, Plan, Provenance, Task, TaskKind
from scheduler.problem import Day
from scheduler.rack import is_small_load
from scheduler.replan_rest import Found, Restored
from scheduler.rota.naming import assign
from scheduler.rota.rested import able
from scheduler.rules.floor import ON_HOLD
from scheduler.score import LEVELS, levels_of
from scheduler.search.explain import left_out
from scheduler.search.keep import Kept
from scheduler.search.options import options_of
from scheduler.search.write import write_plan

_BEGUN = "what has begun"


@dataclass(frozen=True, slots=True, kw_only=True)
class _New:
    """A load found anew, under its id of this plan."""

    load: Load
    tasks: tuple[Task, ...]
    watcher: int | None


def written(
    day: Day, before: Plan, begun: Sequence[Kept], restored: Restored, provenance: Provenance
) -> Plan:
    """The plan of a day put together again."""
    floor = _floor(day)
    alone = None if restored.found is None else _alone(restored.found)
    new = [] if alone is None else list(_new(day, before, restored.released, alone))
    every = [
        *begun,
        *restored.kept.values(),
        *(Kept(load=one.load, tasks=one.tasks, watcher=one.watcher) for one in new),
    ]
    loads = _numbered(floor, (one.load for one in every))
    tasks = tuple(task for one in every for task in one.tasks)
    left = (*_held(day, floor), *_left_out(day, floor, restored.found))
    return Plan(
        day_digest=day_digest(day),
        loads=loads,
        tasks=tasks,
        assignments=_people(day, floor, before, every),
        left_out=left,
        levels=_levels(day, begun, loads, tasks, left, floor),
        warnings=tuple(dict.fromkeys(_warnings(day, before, loads, alone))),
        caution=CAUTION,
        provenance=provenance,
    )


def _floor(day: Day) -> Floor:
    if day.floor is None:
        raise BadDay("Nothing of this day has begun.", remedy="Plan the whole day instead.")
    return day.floor


def _alone(found: Found) -> Plan:
    """What was searched for, written out as a day of its own."""
    return write_plan(
        found.day,
        found.decoded,
        digest="",
        levels=(),
        left_out=(),
        warnings=(),
        provenance=Provenance(planner="", seed=0, iterations=0, stopped_because=""),
    )


def _new(day: Day, before: Plan, released: Sequence[Load], alone: Plan) -> Iterator[_New]:
    """The loads found anew. One that holds jars of a load let go from the same canner keeps that load's id."""
    people = {person.id: number for number, person in enumerate(day.people)}
    watchers = {one.task_id: people[one.person_id] for one in alone.assignments if one.person_id in people}
    free = {load.id: load for load in released}
    used = {load.id for load in before.loads}
    for load in sorted(alone.loads, key=lambda one: (one.phases[0].start, one.id)):
        own = [task for task in alone.tasks if task.load_id == load.id]
        watcher = next((watchers.get(task.id) for task in own if task.kind is TaskKind.WATCH), None)
        name = _same_load(load, free.values()) or _fresh_id(load.canner_id, used)
        free.pop(name, None)
        used.add(name)
        tasks = tuple(
            replace(task, id=f"{name}{task.id.removeprefix(load.id)}", load_id=name) for task in own
        )
        yield _New(load=replace(load, id=name), tasks=tasks, watcher=watcher)


def _same_load(load: Load, released: Iterable[Load]) -> str | None:
    batches = {portion.batch_id for portion in load.portions}
    same = [
        one
        for one in released
        if one.canner_id == load.canner_id and batches & {portion.batch_id for portion in one.portions}
    ]
    near = min(same, key=lambda one: abs(one.phases[0].start - load.phases[0].start), default=None)
    return None if near is None else near.id


def _fresh_id(canner_id: str, used: set[str]) -> str:
    number = 1
    while f"{canner_id}-{number}" in used:
        number += 1
    return f"{canner_id}-{number}"


def _numbered(floor: Floor, loads: Iterable[Load]) -> tuple[Load, ...]:
    """Loads by their beginning, numbered on each canner past those that have begun or were lost."""
    begun = {one.load.id for one in floor.begun}
    taken = {(one.load.canner_id, one.load.number) for one in floor.begun}
    taken |= {(one.canner_id, one.number) for one in floor.lost}
    counts: dict[str, int] = {}
    found = []
    for load in sorted(loads, key=lambda one: (one.phases[0].start, one.jars_out, one.canner_id)):
        if load.id in begun:
            found.append(load)
            continue
        last = counts.get(load.canner_id, 0)
        number = next(one for one in count(last + 1) if (load.canner_id, one) not in taken)
        counts[load.canner_id] = number
        found.append(replace(load, number=number))
    return tuple(found)


def _held(day: Day, floor: Floor) -> Iterator[LeftOut]:
    for lost, jars in floor.held(day.policy.fill_wait_limit_minutes):
        yield LeftOut(
            batch_id=jars.batch_id,
            jars=jars.jars,
            code=ON_HOLD,
            reason=f"{lost.reason} The jars did not get their whole process (rules S6, S16).",
            remedy="They are on hold: the lead decides what becomes of them.",
        )


def _left_out(day: Day, floor: Floor, found: Found | None) -> Iterator[LeftOut]:
    if found is None:
        return
    arrivals = {batch.id: batch.arrival for batch in day.batches}
    for none in left_out(found.day, found.options, found.decoded):
        if none.code == "arrives-too-late" and arrivals[none.batch_id] <= floor.now:
            yield replace(
                none,
                code="too-late-now",
                reason="From now to jars out takes longer than the kitchen is open.",
                remedy="Open longer, or keep the food for another day.",
            )
        elif none.code == "day-full":
            yield replace(
                none, remedy="Open longer, ask somebody trained to come, or keep the food for another day."
            )
        else:
            yield none


def _people(day: Day, floor: Floor, before: Plan, every: Sequence[Kept]) -> tuple[Assignment, ...]:
    """Who did what up to now, as it was, and from now on whoever was to do it where that can be."""
    ahead, watchers = [], {}
    spans: dict[str, Task] = {}
    for one in every:
        for task in one.tasks:
            spans[task.id] = task
            if task.end > floor.now:
                ahead.append(replace(task, start=max(task.start, floor.now)))
                if task.kind is TaskKind.WATCH and one.watcher is not None:
                    watchers[task.id] = one.watcher
    past = [piece for one in before.assignments if (piece := _until(one, spans, floor.now)) is not None]
    return _joined([*past, *assign(able(day), ahead, watchers, before.assignments)])


def _until(one: Assignment, tasks: Mapping[str, Task], now: int) -> Assignment | None:
    task = tasks.get(one.task_id)
    if task is None:
        return None
    start, end = max(one.start, task.start), min(one.end, task.end, now)
    return replace(one, start=start, end=end) if start < end else None


def _joined(pieces: Sequence[Assignment]) -> tuple[Assignment, ...]:
    joined: dict[tuple[str, str], list[Assignment]] = {}
    for one in sorted(pieces, key=lambda piece: piece.start):
        row = joined.setdefault((one.task_id, one.person_id), [])
        if row and row[-1].end >= one.start:
            row[-1] = replace(row[-1], end=max(row[-1].end, one.end))
        else:
            row.append(one)
    return tuple(
        sorted(
            (one for row in joined.values() for one in row),
            key=lambda one: (one.start, one.task_id, one.person_id),
        )
    )


def _levels(
    day: Day,
    begun: Sequence[Kept],
    loads: Sequence[Load],
    tasks: Sequence[Task],
    left: Sequence[LeftOut],
    floor: Floor,
) -> tuple[Level, ...]:
    """What is reached; the bound is what the loads that have begun come to alone."""
    reached = levels_of(day, loads, tasks, left)
    least = levels_of(
        day,
        [one.load for one in begun],
        [task for one in begun for task in one.tasks],
        list(_held(day, floor)),
    )
    return tuple(
        Level(name=name, value=value, bound=min(bound, value), bound_name=_BEGUN, unit=unit)
        for (name, unit), value, bound in zip(LEVELS, reached, least, strict=True)
    )


def _warnings(day: Day, before: Plan, loads: Sequence[Load], alone: Plan | None) -> Iterator[str]:
    names = tuple(f"{canner.name}: " for canner in day.canners)
    yield from options_of(replace(day, batches=(), floor=None)).out_of_service
    for words in before.warnings:
        if not words.startswith(("Load ", *names)):
            yield words
    for words in alone.warnings if alone is not None else ():
        if not words.startswith("Load "):
            yield words
    canners = {canner.id: canner for canner in day.canners}
    for load in loads:
        canner = canners[load.canner_id]
        if load.on_hold:
            yield f"Load {load.id} of {canner.name} is on hold: {load.deviation}"
        if is_small_load(canner, _jars_in(day, load)):
            yield (
                f"Load {load.id} is a small one for {canner.name}: fill it up with {load.water_jars} jars of water"
                " (rule S13)."
            )


def _jars_in(day: Day, load: Load) -> dict[JarSize, int]:
    sizes = {batch.id: batch.jar for batch in day.batches}
    jars: dict[JarSize, int] = {}
    for portion in load.portions:
        size = sizes[portion.batch_id]
        jars[size] = jars.get(size, 0) + portion.jars
    return jars
