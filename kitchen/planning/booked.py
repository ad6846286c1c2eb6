"""Loads in canner time that members booked: planned as the time is booked, run and recorded as on a harvest day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.db import transaction

from kitchen.audit.actions import record
from kitchen.batches.actions import set_batch_state
from kitchen.batches.models import BatchState, Slot
from kitchen.errors import BadTime
from kitchen.members.models import User
from kitchen.planning.loads import move_load
from kitchen.planning.models import DayKind, DayState, HarvestDay, Load, LoadState
from kitchen.planning.published import LoadTime
from kitchen.planning.publishing import Numbers, fill_load, write_phases, write_portions


@transaction.atomic
def write_booked_loads(
    *, slot: Slot, loads: Sequence[LoadTime], watcher: User, actor: User, at: datetime
) -> list[Load]:
    """Write the loads of a slot, in the place of those that it had before it was moved.

    ``loads`` are the plan's, and all their jars are of the slot's batch. ``watcher`` stands at the canner from heat on
    until the heat is off (rule S9). The caller holds the kitchen, so that two bookings do not take one number.
    """
    batch = slot.batch
    if batch is None:
        raise BadTime(
            "This time was booked for nothing in particular.", remedy="Book it for a food and jars."
        )
    cancel_booked_loads(slot=slot, actor=actor, at=at)
    slot.stands.all().delete()  # Of a slot booked before its loads were written; they say where jars stand.
    day = _day_of(slot)
    same_date = Load.objects.filter(harvest_day__kitchen=slot.kitchen, harvest_day__date=day.date)
    numbers = Numbers(same_date.exclude(state=LoadState.CANCELLED))
    written = []
    for one in sorted(loads, key=lambda load: load.starts_at):
        load = Load(harvest_day=day, slot=slot, canner=slot.canner_time.canner, changed_at=at)
        load.number = numbers.next(load.canner_id)
        fill_load(load, one, [batch.food_id])
        load.plan_key = f"slot-{slot.pk}-{load.number}"
        load.save()
        write_phases(load, one)
        write_portions(load, [replace(portion, batch_id=batch.pk) for portion in one.portions])
        _write_watch(load, watcher, at)
        written.append(load)
    set_batch_state(batch=batch, state=BatchState.PLANNED, actor=actor)
    told = {"slot": slot.pk, "lots": [load.lot_code for load in written], "watcher": watcher.pk}
    record(actor=actor, kitchen=slot.kitchen, action="write_booked_loads", subject=day, after=told)
    return written


@transaction.atomic
def cancel_booked_loads(*, slot: Slot, actor: User, at: datetime) -> None:
    """The loads of a slot that was given back or moved fall away, with their watches.

    Refused when one of them has begun meanwhile.
    """
    standing = slot.loads.exclude(state=LoadState.CANCELLED).select_for_update(of=("self",))
    for load in standing.select_related("harvest_day__kitchen"):
        move_load(load=load, state=LoadState.CANCELLED, at=at, actor=actor)


def _day_of(slot: Slot) -> HarvestDay:
    """The day of booked time of the slot's date, as long as all that was booked on it."""
    time = slot.canner_time
    day, made = HarvestDay.objects.get_or_create(
        kitchen=slot.kitchen,
        kind=DayKind.BOOKED,
        date=time.starts_at.astimezone(slot.kitchen.zone).date(),
        defaults={"opens_at": time.starts_at, "closes_at": time.ends_at, "state": DayState.PUBLISHED},
    )
    if not made:
        day.opens_at, day.closes_at = min(day.opens_at, time.starts_at), max(day.closes_at, time.ends_at)
        day.save(update_fields=["opens_at", "closes_at"])
    return day


def _write_watch(load: Load, watcher: User, at: datetime) -> None:
    """A watch from heat on until the process ends, on the rota of the load's day, where the run sheet looks for it."""
    phases = {phase.kind: phase for phase in load.phases.all()}
    load.harvest_day.shifts.create(
        user=watcher,
        station="canner",
        task="watch",
        load=load,
        starts_at=phases["heat_up"].starts_at,
        ends_at=phases["process"].ends_at,
        changed_at=at,
    )
