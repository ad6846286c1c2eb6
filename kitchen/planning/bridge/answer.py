"""A kept answer as what publishing writes and a lead reads."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta

from kitchen.planning.bridge.values import read_day, read_plan
from kitchen.planning.published import JarsOf, LoadTime, NoPlace, PhaseTime, PlannedDay, ShiftTime
from scheduler.difference import Difference, difference, pairs
from scheduler.errors import DoesNotFit
from scheduler.jars import JarSize
from scheduler.judge import judge
from scheduler.plan import Load, Plan, TaskKind
from scheduler.problem import Day
from scheduler.rack import arrange
from scheduler.wall_clock import WallClock, wall_clock

# Where each kind of work is done.
_STATION: dict[TaskKind, str] = {
    TaskKind.PREP: "prep",
    TaskKind.KETTLE: "kettle",
    TaskKind.FILL: "fill",
    TaskKind.WATCH: "canner",
    TaskKind.CLEANING: "prep",
    TaskKind.COOLING: "cooling",
}


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
                _load_time(day, load, taken_from(plan, load), clock),
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


def load_times(day: Day, plan: Plan) -> tuple[LoadTime, ...]:
    """The loads of a plan of ``day``, the first to begin first."""
    clock = wall_clock(day.date, day.time_zone)
    ordered = sorted(plan.loads, key=lambda load: load.span)
    return tuple(_load_time(day, load, taken_from(plan, load), clock) for load in ordered)


def taken_from(plan: Plan, load: Load) -> int:
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
