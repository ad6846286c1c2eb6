"""A harvest day as the planner's question, and the planner's answer as what publishing writes.

Ids are primary keys as text; times become whole minutes since local midnight here, once, and moments again on
the way back. Rows are read in the order of their keys, so that the same rows always make the same question.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from importlib import import_module

from pydantic import TypeAdapter, ValidationError

from kitchen.errors import BadHarvestDay, PlanOutOfDate
from kitchen.planning.bridge.rows import asked
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.published import JarsOf, LoadTime, NoPlace, PhaseTime, PlannedDay, ShiftTime
from kitchen.planning.queries import (
    published_job,
    started_loads,
)
from kitchen.planning.recorded import LoadRecord, records_of
from scheduler.difference import Difference, difference, pairs
from scheduler.digest import day_digest
from scheduler.errors import DoesNotFit, SchedulerError
from scheduler.floor import Lost
from scheduler.floor_record import Record, floor_of, lost_load, record_of
from scheduler.jars import JarSize
from scheduler.judge import judge
from scheduler.plan import Load, Plan, TaskKind
from scheduler.problem import Day
from scheduler.rack import arrange
from scheduler.wall_clock import WallClock, wall_clock
from scheduler.what_if.answer import WhatIf

__all__ = [
    "Day",
    "Difference",
    "ask_what_if",
    "begun_keys",
    "day_digest",
    "day_of",
    "difference_of",
    "dump_day",
    "dump_plan",
    "lost_keys",
    "plan_day",
    "plan_rest",
    "planned_day",
    "question_of",
    "read_day",
    "read_plan",
    "read_what_if",
    "violations_of",
]

# Where each kind of work is done.
_STATION: dict[TaskKind, str] = {
    TaskKind.PREP: "prep",
    TaskKind.KETTLE: "kettle",
    TaskKind.FILL: "fill",
    TaskKind.WATCH: "canner",
    TaskKind.CLEANING: "prep",
    TaskKind.COOLING: "cooling",
}


def day_of(row: HarvestDay) -> Day:
    """The question that a harvest day's rows make. ``BadHarvestDay`` when they contradict each other."""
    try:
        return _as_published(asked(row), row)
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error


def _as_published(day: Day, row: HarvestDay) -> Day:
    """A day under way keeps its canners' paces and what its people carry: its loads run by the ones and its shifts
    were shared out by the others, whatever another day teaches or changes meanwhile.
    """
    if not started_loads(row).exists():
        return day
    published = published_job(row)
    if published is None or published.day is None:
        return day
    kept = read_day(published.day)
    paces = {canner.id: canner.pace for canner in kept.canners}
    carried = {person.id: person.carried_minutes for person in kept.people}
    return replace(
        day,
        people=tuple(
            replace(one, carried_minutes=carried.get(one.id, one.carried_minutes)) for one in day.people
        ),
        canners=tuple(replace(one, pace=paces.get(one.id, one.pace)) for one in day.canners),
        policy=replace(
            day.policy,
            fill_pace=kept.policy.fill_pace,
            unloading_minutes=kept.policy.unloading_minutes,
        ),
    )


def question_of(job: PlanJob) -> Day:
    """What a job asks, as the rows make it now: the whole day, or the rest of it from the floor the job looked at."""
    day = day_of(job.harvest_day)
    if job.floor_at is None or job.follows is None:
        return day
    try:
        return _under_way(job.harvest_day, day, job.floor_at, job.follows)
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error


def _with_earlier_loads(job: PlanJob) -> Plan:
    """The plan that was being run, with loads that only plans before it held: those that had lost their canner."""
    plan = read_plan(job.plan)
    one: PlanJob | None = job
    while one is not None and (one := one.follows) is not None:
        earlier = read_plan(one.plan)
        known = {load.id for load in plan.loads}
        plan = replace(
            plan,
            loads=(*plan.loads, *(load for load in earlier.loads if load.id not in known)),
            tasks=(*plan.tasks, *(task for task in earlier.tasks if task.load_id not in known)),
        )
    return plan


def _under_way(row: HarvestDay, day: Day, at: datetime, follows: PlanJob) -> Day:
    before, standing = _with_earlier_loads(follows), read_plan(follows.plan).loads
    clock = wall_clock(day.date, day.time_zone)
    now = clock.minute_of(at)
    loads = {load.id: load for load in before.loads}
    records: dict[str, Record] = {
        load.id: Record(is_assumed=True) for load in standing if _is_being_filled(day, before, load, now)
    }
    lost: list[Lost] = []
    for one in records_of(row, at):
        if one.key not in loads:
            raise BadHarvestDay(
                "A load was begun that is not in the published plan.", remedy="Go on by its run sheet."
            )
        records.pop(one.key, None)
        if one.canner_failed:
            canner = next(canner for canner in day.canners if canner.id == loads[one.key].canner_id)
            reason = f"{canner.name} failed before the process ended: {one.canner_failed.rstrip('.')}."
            # The record does not say when the first jar was filled, so nobody can say that it waited too short.
            lost.append(lost_load(before, one.key, reason, is_fill_known=False))
        else:
            records[one.key] = _recorded(one, clock)
    told = records.keys() | {one.load_id for one in lost} | {load.id for load in standing}
    loads_told = tuple(load for load in before.loads if load.id in told)
    floor = floor_of(day, replace(before, loads=loads_told), now, records, lost)
    return replace(day, floor=floor)


def _is_being_filled(day: Day, before: Plan, load: Load, now: int) -> bool:
    """True when its filling was to begin so lately that the jars are on their way, though nothing is recorded yet."""
    brought = {batch.id for batch in day.batches}
    if any(portion.batch_id not in brought for portion in load.portions):
        return False
    return 0 <= now - _fill_start(before, load) <= day.policy.fill_wait_limit_minutes


def _recorded(one: LoadRecord, clock: WallClock) -> Record:
    lines = ((kind, clock.minute_of(at)) for kind, at in one.lines)
    return replace(
        record_of(lines, under_pressure=one.under_pressure),
        target_reading_psi=one.target_reading_psi,
        deviation=one.deviation or None,
        on_hold=one.on_hold,
        settled=one.settled,
    )


def dump_day(day: Day) -> object:
    """The question as plain values, to be kept beside its answer."""
    return _days().dump_python(day, mode="json")


def read_day(dumped: object) -> Day:
    """The question that was kept."""
    return _days().validate_python(dumped)


def dump_plan(plan: Plan) -> object:
    """The answer as plain values."""
    return _plans().dump_python(plan, mode="json")


def read_plan(dumped: object) -> Plan:
    """The answer that was kept. ``PlanOutOfDate`` when an older release wrote it in another form."""
    try:
        return _plans().validate_python(dumped)
    except ValidationError as error:
        raise PlanOutOfDate("This plan was kept in an older form.", remedy="Plan the day again.") from error


def plan_day(
    day: Day,
    *,
    seconds: float,
    seed: int,
    clock: Callable[[], float],
    on_progress: Callable[[dict[str, object]], None],
    should_stop: Callable[[], bool],
) -> Plan:
    """Ask the planner. ``on_progress`` gets its newest report as plain values.

    ``BadHarvestDay`` when the planner refuses the day.
    """
    # Loaded when first asked: the compiled search is of no use to a process that only shows plans.
    planner = import_module("scheduler.planner")
    try:
        made: Plan = planner.plan(
            day,
            seconds=seconds,
            seed=seed,
            clock=clock,
            on_progress=lambda report: on_progress(_progress().dump_python(report, mode="json")),
            should_stop=should_stop,
        )
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    return made


def ask_what_if(
    dumped_day: object,
    dumped_plan: object,
    *,
    plan_seconds: float,
    plan_seed: int,
    seconds: float,
    clock: Callable[[], float],
    on_progress: Callable[[int, int], None],
    should_stop: Callable[[], bool],
) -> object:
    """What would place the jars that a kept plan leaves out or brings home late, as plain values.

    ``plan_seconds`` and ``plan_seed`` are those of the plan that is asked for once a change is made: each change found
    holds in that plan. ``seconds`` limits the search.

    ``BadHarvestDay`` when the planner refuses the day, ``PlanOutOfDate`` when the plan is of an older form.
    """
    what_if = import_module("scheduler.what_if.ask").what_if  # As for plan_day.
    usual = import_module("scheduler.what_if.trials").Usual
    try:
        found: WhatIf = what_if(
            read_day(dumped_day),
            read_plan(dumped_plan),
            usual=usual(seconds=plan_seconds, seed=plan_seed),
            seconds=seconds,
            clock=clock,
            on_progress=on_progress,
            should_stop=should_stop,
        )
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    return _what_ifs().dump_python(found, mode="json")


def read_what_if(dumped: object) -> WhatIf:
    """The answers that were kept. ``PlanOutOfDate`` when an older release wrote them in another form."""
    try:
        return _what_ifs().validate_python(dumped)
    except ValidationError as error:
        raise PlanOutOfDate("These answers were kept in an older form.", remedy="Ask again.") from error


def plan_rest(
    day: Day, before: object, *, seed: int, clock: Callable[[], float], should_stop: Callable[[], bool]
) -> Plan:
    """Ask for the rest of a day under way, after the kept plan that was being run.

    ``BadHarvestDay`` for what a lead must settle first.
    """
    planner = import_module("scheduler.replan")
    try:
        made: Plan = planner.replan(
            day,
            read_plan(before),
            seconds=planner.REPLAN_SECONDS,
            seed=seed,
            clock=clock,
            should_stop=should_stop,
        )
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    return made


def difference_of(day_before: object, before: object, day: object, after: object) -> Difference:
    """What a kept plan changes against another kept before it, in sentences."""
    return difference(read_day(day_before), read_plan(before), read_day(day), read_plan(after))


def begun_keys(dumped: object) -> frozenset[str]:
    """The plan's names of the loads that had begun when a kept question was asked, lost ones among them."""
    floor = read_day(dumped).floor
    if floor is None:
        return frozenset()
    return frozenset({one.load.id for one in floor.begun} | {one.load_id for one in floor.lost})


def lost_keys(day: Day) -> dict[str, str]:
    """The plan's names of the loads that lost their canner, with the reason."""
    return {} if day.floor is None else {one.load_id: one.reason for one in day.floor.lost}


def violations_of(day: Day, dumped: object) -> tuple[str, ...]:
    """What the judge says against a kept plan, in words; nothing when it keeps every rule."""
    return tuple(f"{one.rule}: {one.message}" for one in judge(day, read_plan(dumped)))


def planned_day(day: Day, dumped: object, before: object = None) -> PlannedDay:
    """A kept plan as what publishing writes. With the plan ``before``, each load knows which load it goes on as."""
    plan = read_plan(dumped)
    goes_on = {} if before is None else pairs(read_plan(before), plan)
    begun = frozenset() if day.floor is None else frozenset(one.load.id for one in day.floor.begun)
    clock = wall_clock(day.date, day.time_zone)
    tasks = {task.id: task for task in plan.tasks}
    return PlannedDay(
        loads=tuple(
            replace(
                _load_time(day, load, _fill_start(plan, load), clock),
                goes_on_as=goes_on.get(load.id, ""),
                has_begun=load.id in begun,
            )
            for load in plan.loads
        ),
        shifts=tuple(
            ShiftTime(
                user_id=int(one.person_id),
                station=_STATION[tasks[one.task_id].kind],
                task=tasks[one.task_id].kind.value,
                load_key=tasks[one.task_id].load_id,
                starts_at=_moment(clock, one.start),
                ends_at=_moment(clock, one.end),
            )
            for one in plan.assignments
        ),
        left_out=tuple(
            NoPlace(
                batch_id=int(none.batch_id),
                jars=none.jars,
                code=none.code,
                reason=none.reason,
                remedy=none.remedy,
            )
            for none in plan.left_out
        ),
    )


def _fill_start(plan: Plan, load: Load) -> int:
    """A canner is taken from the first jar filled: it must be ready for it (rule S10)."""
    fills = [task.start for task in plan.tasks if task.kind is TaskKind.FILL and task.load_id == load.id]
    return min([load.span.start, *fills])


def _load_time(day: Day, load: Load, taken_from: int, clock: WallClock) -> LoadTime:
    stand = load.stand
    return LoadTime(
        key=load.id,
        canner_id=int(load.canner_id),
        number=load.number,
        starts_at=_moment(clock, taken_from),
        ends_at=_moment(clock, load.span.end),
        method=load.method,
        pressure_psi=load.pressure_psi,
        target_reading_psi=load.target_reading_psi,
        process_minutes=load.process_minutes,
        water_jars=load.water_jars,
        cooling_table_id=int(stand.table_id) if stand else None,
        stand_area_sq_in=stand.area_sq_in if stand else 0.0,
        stands_until=_moment(clock, stand.end) if stand else None,
        phases=tuple(
            PhaseTime(
                kind=phase.kind.value,
                starts_at=_moment(clock, phase.start),
                ends_at=_moment(clock, phase.end),
            )
            for phase in load.phases
        ),
        portions=tuple(
            JarsOf(
                batch_id=int(portion.batch_id),
                jars=portion.jars,
                process_key=portion.process_key,
                headspace_in=portion.headspace_in,
                sterilise_jars=portion.sterilise_jars,
                acid=portion.acid,
            )
            for portion in load.portions
        ),
        places=_places(day, load),
    )


def _places(day: Day, load: Load) -> tuple[dict[str, float | int | str], ...]:
    """Where each jar of food stands, for the drawing on the run sheet."""
    canner = next(canner for canner in day.canners if canner.id == load.canner_id)
    sizes = {batch.id: batch.jar for batch in day.batches}
    jars: Counter[JarSize] = Counter()
    for portion in load.portions:
        jars[sizes[portion.batch_id]] += portion.jars
    try:
        places = arrange(canner, jars, process_minutes=load.process_minutes)
    except DoesNotFit:
        return ()
    return tuple(
        {
            "layer": place.layer,
            "x_in": round(place.x_in, 3),
            "y_in": round(place.y_in, 3),
            "diameter_in": place.diameter_in,
            "jar": place.jar.value,
        }
        for place in places
    )


def _moment(clock: WallClock, minute: int) -> datetime:
    return clock.origin + timedelta(minutes=minute)


@cache
def _days() -> TypeAdapter[Day]:
    return TypeAdapter(Day)


@cache
def _what_ifs() -> TypeAdapter[WhatIf]:
    return TypeAdapter(WhatIf)


@cache
def _plans() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)


@cache
def _progress() -> TypeAdapter[object]:
    progress: type[object] = import_module("scheduler.planner").Progress
    return TypeAdapter(progress)
