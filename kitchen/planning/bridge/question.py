"""What a job asks: a whole day, or the rest of one under way from the floor as it is recorded."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from kitchen.errors import BadHarvestDay
from kitchen.planning.bridge.answer import taken_from
from kitchen.planning.bridge.rows import asked
from kitchen.planning.bridge.values import read_day, read_plan
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.queries import published_job, started_loads
from kitchen.planning.recorded import LoadRecord, records_of
from scheduler.errors import SchedulerError
from scheduler.floor import Lost
from scheduler.floor_record import Record, floor_of, lost_load, record_of
from scheduler.plan import Load, Plan
from scheduler.problem import Day
from scheduler.wall_clock import WallClock, wall_clock


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
    return 0 <= now - taken_from(before, load) <= day.policy.fill_wait_limit_minutes


def _recorded(one: LoadRecord, clock: WallClock) -> Record:
    lines = ((kind, clock.minute_of(at)) for kind, at in one.lines)
    return replace(
        record_of(lines, under_pressure=one.under_pressure),
        target_reading_psi=one.target_reading_psi,
        deviation=one.deviation or None,
        on_hold=one.on_hold,
        settled=one.settled,
    )
