"""Writing a published plan as rows. What stays the same keeps its row, so that calendars see the same entry.

Called by ``actions.publish_plan`` inside its transaction; shifts are written here too, because one plan is
one transaction. They are reached through the harvest day, for the rota stands above planning.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime
from itertools import count
from typing import Any

from django.db.models import QuerySet

from kitchen.batches.actions import set_batch_state
from kitchen.batches.models import BatchState
from kitchen.batches.queries import batches_of_day
from kitchen.equipment.canner_time import WantedTime, book_times, give_up_times
from kitchen.equipment.models import CannerTime, Purpose
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay, LeftOut, Load, LoadPhase, LoadPortion, LoadState, lot_code
from kitchen.planning.published import JarsOf, LoadTime, PlannedDay, ShiftTime

_LOAD_FIELDS = (
    "method",
    "pressure_psi",
    "target_reading_psi",
    "process_minutes",
    "water_jars",
    "cooling_table_id",
    "stand_area_sq_in",
    "stands_until",
)
# Beyond any number of loads of one canner on a day.
_ASIDE = 1000
_PORTION_FIELDS = ("jars", "process_key", "headspace_in", "sterilise_jars")


def write_plan(day: HarvestDay, plan: PlannedDay, *, actor: User | None, at: datetime) -> None:
    """Put the plan's loads, shifts and left-out jars in the place of what was published before."""
    loads = _write_loads(day, plan.loads, at)
    _write_shifts(day, plan.shifts, loads, at)
    day.left_out.all().delete()
    LeftOut.objects.bulk_create(
        LeftOut(
            harvest_day=day,
            batch_id=none.batch_id,
            jars=none.jars,
            code=none.code,
            reason=none.reason,
            remedy=none.remedy,
        )
        for none in plan.left_out
    )
    placed = {portion.batch_id for load in plan.loads for portion in load.portions}
    for batch in batches_of_day(day.pk):
        if batch.pk in placed and batch.state in (BatchState.DECLARED, BatchState.ARRIVED):
            set_batch_state(batch=batch, state=BatchState.PLANNED, actor=actor)


def standing_shifts(day: HarvestDay, at: datetime) -> tuple[Any, ...]:
    """The day's shifts as they stand now and are not over, for whoever compares what a plan changed."""
    standing = day.shifts.filter(cancelled_at__isnull=True, ends_at__gt=at)
    rows = standing.select_related("user", "load__canner", "harvest_day__kitchen")
    return tuple(rows.order_by("starts_at", "pk"))


def _write_loads(day: HarvestDay, wanted: tuple[LoadTime, ...], at: datetime) -> dict[str, Load]:
    loads = list(
        day.loads.exclude(state=LoadState.CANCELLED)
        .order_by("pk")
        .select_related("canner_time", "canner", "harvest_day__kitchen")
    )
    standing = {load.plan_key: load for load in loads}
    canners = {canner.pk: canner for canner in day.kitchen.canners.all()}
    batches = {batch.pk: batch for batch in batches_of_day(day.pk)}
    named = {one.goes_on_as for one in wanted}
    waiting = [load for load in loads if load.state == LoadState.PLANNED]
    free = [load.canner_time for load in loads if load in waiting or load.plan_key in named]
    give_up_times(time for time in free if time)
    _set_aside(waiting)
    times = book_times(
        wanted=[
            WantedTime(canner=canners[one.canner_id], starts_at=one.starts_at, ends_at=one.ends_at)
            for one in wanted
        ],
        purpose=Purpose.LOAD,
    )
    written: dict[str, Load] = {}
    begun = [load for load in loads if load.state != LoadState.PLANNED]
    numbers = Numbers([*begun, *_booked_loads(day)])
    for one, time in sorted(zip(wanted, times, strict=True), key=lambda pair: pair[0].starts_at):
        load = standing.pop(one.goes_on_as, None)
        if load is not None and load.state != LoadState.PLANNED:
            _hold_canner(load, time, at)
            written[one.key] = load
            continue
        before = None if load is None else _seen(load)
        load = load or Load(harvest_day=day)
        load.canner, load.number = canners[one.canner_id], numbers.next(one.canner_id)
        fill_load(load, one, [batches[portion.batch_id].food_id for portion in one.portions])
        load.canner_time = time
        load.changed_at = at
        load.save()
        write_phases(load, one)
        write_portions(load, one.portions)
        if before is not None and before != _seen(load):
            load.sequence += 1
            load.save(update_fields=["sequence"])
        written[one.key] = load
    for load in standing.values():
        if load.state == LoadState.PLANNED:
            _cancel(load, at)
    return written


def _booked_loads(day: HarvestDay) -> QuerySet[Load]:
    """The standing loads of the date in canner time that members booked: lot codes name canner, date and number."""
    same_date = Load.objects.filter(harvest_day__kitchen=day.kitchen_id, harvest_day__date=day.date)
    return same_date.exclude(harvest_day=day).exclude(state=LoadState.CANCELLED)


class Numbers:
    """The loads of each canner counted, past those that keep their numbers."""

    def __init__(self, begun: Iterable[Load]) -> None:
        self._taken = {(load.canner_id, load.number) for load in begun}

    def next(self, canner_id: int) -> int:
        """The first number of this canner that is free, taken with it."""
        number = next(one for one in count(1) if (canner_id, one) not in self._taken)
        self._taken.add((canner_id, number))
        return number


def _set_aside(loads: Sequence[Load]) -> None:
    """Out of the way of each other: while they are written anew, loads of a canner may change their numbers."""
    for place, load in enumerate(loads):
        Load.objects.filter(pk=load.pk).update(number=_ASIDE + place, lot_code=f"~{load.pk}")


def _hold_canner(load: Load, time: CannerTime, at: datetime) -> None:
    """All that a new plan may change of a load that has begun: for how long its canner is taken."""
    before = load.canner_time
    load.canner_time = time
    if before is None or before.ends_at != time.ends_at:
        load.sequence += 1
        load.changed_at = at
    load.save(update_fields=["canner_time", "sequence", "changed_at"])


def fill_load(load: Load, one: LoadTime, foods: Sequence[str]) -> None:
    """What the plan says of a load, and its lot code by the ids of its foods; canner and number are set already."""
    load.plan_key = one.key
    for name in _LOAD_FIELDS:
        setattr(load, name, getattr(one, name))
    load.sterilise_jars = any(portion.sterilise_jars for portion in one.portions)
    load.places = list(one.places)
    load.lot_code = lot_code(day=load.harvest_day, canner=load.canner, number=load.number, foods=foods)


def write_phases(load: Load, one: LoadTime) -> None:
    """The phases of a load that is saved, in the place of those it had."""
    load.phases.all().delete()
    LoadPhase.objects.bulk_create(
        LoadPhase(load=load, kind=phase.kind, starts_at=phase.starts_at, ends_at=phase.ends_at)
        for phase in one.phases
    )


def write_portions(load: Load, wanted: Iterable[JarsOf]) -> None:
    """Whose jars are in a load that is saved; who had some there before keeps the row."""
    standing = {portion.batch_id: portion for portion in load.portions.all()}
    for one in wanted:
        portion = standing.pop(one.batch_id, None) or LoadPortion(load=load, batch_id=one.batch_id)
        for name in _PORTION_FIELDS:
            setattr(portion, name, getattr(one, name))
        portion.acid = list(one.acid)
        portion.save()
    for portion in standing.values():
        portion.delete()


def _cancel(load: Load, at: datetime) -> None:
    load.state = LoadState.CANCELLED
    load.cancelled_at = load.changed_at = at
    load.sequence += 1
    # Its number and lot code as well: they were set aside while the others were written.
    load.save(update_fields=["state", "cancelled_at", "changed_at", "sequence", "number", "lot_code"])


def _seen(load: Load) -> tuple[object, ...]:
    """What people see of a load: when any of it changes, its calendar entry has a new sequence."""
    phases = tuple(load.phases.order_by("starts_at").values_list("kind", "starts_at", "ends_at"))
    portions = tuple(load.portions.order_by("batch").values_list("batch", *_PORTION_FIELDS))
    return (*(getattr(load, name) for name in _LOAD_FIELDS[:4]), load.lot_code, phases, portions)


def _write_shifts(
    day: HarvestDay, wanted: tuple[ShiftTime, ...], loads: dict[str, Load], at: datetime
) -> None:
    """A shift keeps its row while the same person does the same work for the same load; what has begun was done.

    Open shifts of the plan before fall away, for the new plan says who does their work. Helpers whom a lead asked for
    apart from any plan stay.
    """
    standing = defaultdict(list)
    planned = day.shifts.filter(cancelled_at__isnull=True, asked_for=False)
    for shift in planned.order_by("starts_at", "pk"):
        standing[shift.user_id, shift.station, shift.task, shift.load_id].append(shift)
    for one in sorted(wanted, key=lambda shift: (shift.starts_at, shift.user_id)):
        load = loads[one.load_key]
        kept = standing[one.user_id, one.station, one.task, load.pk]
        if not kept:
            day.shifts.create(
                user_id=one.user_id,
                station=one.station,
                task=one.task,
                load=load,
                starts_at=one.starts_at,
                ends_at=one.ends_at,
                changed_at=at,
            )
            continue
        shift = kept.pop(0)
        if (shift.starts_at, shift.ends_at) != (one.starts_at, one.ends_at):
            shift.starts_at, shift.ends_at = one.starts_at, one.ends_at
            shift.sequence += 1
            shift.changed_at = at
            shift.save(update_fields=["starts_at", "ends_at", "sequence", "changed_at"])
    for shift in (shift for left in standing.values() for shift in left):
        if shift.starts_at > at or (shift.user_id is None and shift.ends_at > at):
            shift.cancelled_at = shift.changed_at = at
            shift.sequence += 1
            shift.save(update_fields=["cancelled_at", "changed_at", "sequence"])
    _open_where_needed_elsewhere(day, at)


def _open_where_needed_elsewhere(day: HarvestDay, at: datetime) -> None:
    """A helper asked for apart from the plan, whom the new plan needs at that time, is no longer put down there.

    Nobody is in two places, and what a load needs comes first.
    """
    for shift in day.shifts.filter(
        cancelled_at__isnull=True, asked_for=True, user__isnull=False, starts_at__gt=at
    ):
        needed = day.shifts.filter(
            cancelled_at__isnull=True,
            asked_for=False,
            user=shift.user,
            starts_at__lt=shift.ends_at,
            ends_at__gt=shift.starts_at,
        )
        if needed.exists():
            shift.former_holders.update_or_create(user=shift.user, defaults={"lost_at": at})
            shift.user = None
            shift.changed_at = at
            shift.sequence += 1
            shift.save(update_fields=["user", "changed_at", "sequence"])
