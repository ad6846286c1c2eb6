"""What becomes of a load once it is published: moved on, corrected, put on hold."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Manager, Q

from kitchen.audit.actions import record, snapshot
from kitchen.batches.models import Batch
from kitchen.equipment.canner_time import give_up_times
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.planning.rules import check_load_may_become

_MOVED = (
    "state",
    "jars_out_at",
    "process_ended_at",
    "closed_at",
    "cancelled_at",
    "changed_at",
    "sequence",
)


def locked_load(pk: int) -> Load:
    """The load as it is now, with its canner, day and kitchen; whoever else writes of it waits for this transaction."""
    loads = Load.objects.select_for_update(of=("self",)).select_related("canner", "harvest_day__kitchen")
    return loads.get(pk=pk)


def lock_planned_loads(day: HarvestDay) -> None:
    """Wait for whoever is beginning one of the day's loads, and let nobody begin one before this transaction ends."""
    waiting = day.loads.filter(state=LoadState.PLANNED).order_by("pk")
    list(waiting.select_for_update().values_list("pk", flat=True))


@transaction.atomic
def move_load(
    *,
    load: Load,
    state: LoadState,
    at: datetime,
    actor: User | None,
    process_ended_at: datetime | None = None,
) -> Load:
    """Move a load on as the table allows, with the times that go with it. The caller has checked who may."""
    check_load_may_become(LoadState(load.state), state)
    before = snapshot(load, "state", "jars_out_at", "process_ended_at")
    load.state = state
    match state:
        case LoadState.OUT:
            load.jars_out_at = at
            load.process_ended_at = process_ended_at
        case LoadState.CLOSED:
            load.closed_at = at
        case LoadState.CANCELLED:
            load.cancelled_at = load.changed_at = at
            load.sequence += 1
            give_up_times([load.canner_time] if load.canner_time else [])
            cancel_shifts(load.shifts, at)
    # Nothing else: what is noted of the load meanwhile stays as it is.
    load.save(update_fields=_MOVED)
    record(
        actor=actor,
        kitchen=load.harvest_day.kitchen,
        action=f"load_{state.value}",
        subject=load,
        before=before,
        after=snapshot(load, "state", "jars_out_at", "process_ended_at"),
    )
    return load


def cancel_shifts(shifts: Manager[Any], at: datetime) -> None:
    """Of these shifts cancel those that have not begun, and the open ones that are not over: nobody is needed any more.

    They are reached through a load or a day, for the rota stands above planning. The caller's audit line says why.
    """
    standing = shifts.filter(cancelled_at__isnull=True)
    no_more = standing.filter(Q(starts_at__gt=at) | Q(user__isnull=True, ends_at__gt=at))
    no_more.update(cancelled_at=at, changed_at=at, sequence=F("sequence") + 1)


@transaction.atomic
def correct_load_times(
    *, load: Load, jars_out_at: datetime | None, process_ended_at: datetime | None, actor: User
) -> Load:
    """Follow a corrected line of the process record."""
    before = snapshot(load, "jars_out_at", "process_ended_at")
    load.jars_out_at, load.process_ended_at = jars_out_at, process_ended_at
    load.save(update_fields=["jars_out_at", "process_ended_at"])
    record(
        actor=actor,
        kitchen=load.harvest_day.kitchen,
        action="correct_load_times",
        subject=load,
        before=before,
        after=snapshot(load, "jars_out_at", "process_ended_at"),
    )
    return load


@transaction.atomic
def correct_reading(*, load: Load, target_reading_psi: float, actor: User) -> Load:
    """Set what the gauge must show anew, after its gauge was checked since the plan was made (rule S8)."""
    before = snapshot(load, "target_reading_psi")
    load.target_reading_psi = target_reading_psi
    load.save(update_fields=["target_reading_psi"])
    record(
        actor=actor,
        kitchen=load.harvest_day.kitchen,
        action="correct_reading",
        subject=load,
        before=before,
        after=snapshot(load, "target_reading_psi"),
    )
    return load


@transaction.atomic
def leave_out(*, load: Load, batch: Batch, actor: User) -> Load:
    """Take a batch's jars out of a load that has not begun, and fill their places with jars of water (rule S13).

    The load's process stays as it is planned: fewer jars need no more of it.
    """
    before = snapshot(load, "water_jars")
    gone = load.portions.filter(batch=batch)
    load.water_jars += sum(portion.jars for portion in gone)
    gone.delete()
    load.save(update_fields=["water_jars"])
    record(
        actor=actor,
        kitchen=load.harvest_day.kitchen,
        action="leave_out",
        subject=load,
        before=before,
        after={**snapshot(load, "water_jars"), "batch": batch.pk},
    )
    return load


def note_used_up(load: Load, *, used_up: bool) -> None:
    """Note of a load, which is locked, whether nothing of it is left on the shelf."""
    load.used_up = used_up
    # Whatever the row at hand said, which may have been read before it was locked.
    Load.objects.filter(pk=load.pk, used_up=not used_up).update(used_up=used_up)


def note_reviewed(load: Load, *, reviewed: bool) -> None:
    """Note of a load, which is locked, whether its record is reviewed as it stands."""
    load.reviewed = reviewed  # As above.
    Load.objects.filter(pk=load.pk, reviewed=not reviewed).update(reviewed=reviewed)


@transaction.atomic
def hold_load(*, load: Load, deviations: list[str], actor: User | None) -> Load:
    """Rule S16: put a load's jars on hold for what is not written there yet. Nothing is ever taken away.

    Whoever finds something out may have read the load long before; what was written since is read here, and kept.
    """
    now = locked_load(load.pk)
    load.deviation, load.on_hold = now.deviation, now.on_hold
    # Line by line: a few letters that also stand in an earlier deviation, long decided about, are still new.
    written = set(load.deviation.splitlines())
    new = [told for told in deviations if not written.issuperset(told.splitlines())]
    if not new:
        return load
    before = snapshot(load, "deviation", "on_hold")
    load.deviation = "\n".join([*load.deviation.splitlines(), *new])
    load.on_hold, load.reviewed = True, False
    load.save(update_fields=["deviation", "on_hold", "reviewed"])
    record(
        actor=actor,
        kitchen=load.harvest_day.kitchen,
        action="hold_load",
        subject=load,
        before=before,
        after=snapshot(load, "deviation", "on_hold"),
    )
    return load


@transaction.atomic
def end_hold(*, load: Load, discarded: bool, actor: User) -> Load:
    """End a hold, with the jars released or thrown out.

    Called by the lead's decision, which keeps the reason.
    """
    before = snapshot(load, "on_hold", "discarded")
    load.on_hold, load.discarded = False, discarded
    load.save(update_fields=["on_hold", "discarded"])
    record(
        actor=actor,
        kitchen=load.harvest_day.kitchen,
        action="end_hold",
        subject=load,
        before=before,
        after=snapshot(load, "on_hold", "discarded"),
    )
    return load
