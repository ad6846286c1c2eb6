"""Intake, and canner time outside harvest days."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.batches.bridge import weigh
from kitchen.batches.models import Batch, BatchState, Slot, SlotState, Unit
from kitchen.batches.rules import (
    check_batch_may_become,
    check_jars,
    check_may_be_cancelled,
    check_may_be_changed,
    check_not_begun,
    check_not_booked,
    check_slot_time,
    check_stay,
    check_within_day,
)
from kitchen.equipment.actions import check_usable
from kitchen.equipment.canner_time import book_time, booking, give_up_times, keep_time
from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.errors import BadIntake, NotAllowed
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may, check_may_for

# A day of booked canner time takes no batches; the days themselves are known further up.
HARVEST_DAY = "harvest"
_BATCH_FIELDS = (
    "harvest_day",
    "food_id",
    "pack",
    "jar",
    "amount",
    "unit",
    "jars",
    "arrives_at",
    "picks_up_at",
)


@transaction.atomic
def declare_batch(
    *,
    kitchen: Kitchen,
    member: User,
    food: str,
    pack: str,
    jar: str,
    amount: Decimal,
    unit: str,
    arrives_at: datetime,
    picks_up_at: datetime,
    actor: User,
    harvest_day_id: int | None = None,
) -> Batch:
    """Note what a member will bring. The upper end of the published yield is what is planned.

    Refused: a food, pack and jar without a published process here (rule S1), no jars or too many, a pick-up
    before the arrival, a harvest day that is over or another kitchen's.
    """
    check_may_for(actor, member, kitchen, Deed.DECLARE_BATCH)
    check_stay(arrives_at, picks_up_at)
    if harvest_day_id is not None:
        _check_day(kitchen, harvest_day_id, arrives_at)
    makes = weigh(kitchen=kitchen, food=food, pack=pack, jar=jar, amount=amount, unit=unit)
    batch = Batch.objects.create(
        kitchen=kitchen,
        member=member,
        harvest_day_id=harvest_day_id,
        food_id=makes.food_id,
        food_name=makes.food_name,
        pack=pack,
        jar=jar,
        amount=amount,
        unit=unit,
        jars_low=makes.jars_low,
        jars_high=makes.jars_high,
        jars=makes.jars_high,
        arrives_at=arrives_at,
        picks_up_at=picks_up_at,
    )
    record(
        actor=actor,
        kitchen=kitchen,
        action="declare_batch",
        subject=batch,
        after=snapshot(batch, *_BATCH_FIELDS),
    )
    return batch


@transaction.atomic
def receive_batch(*, batch: Batch, actor: User, jars: int | None = None) -> Batch:
    """Note that a batch has come, and correct the number of jars when it is known better."""
    check_may(actor, batch.kitchen, Deed.RECEIVE_BATCH)
    before = snapshot(batch, "state", "jars")
    if jars is not None:
        check_jars(jars)
        check_not_booked(batch)
        batch.jars = jars
    if batch.state == BatchState.DECLARED:
        batch.state = BatchState.ARRIVED
    elif batch.state in (BatchState.DONE, BatchState.CANCELLED):
        check_batch_may_become(batch, BatchState.ARRIVED)
    batch.save(update_fields=["state", "jars"])
    record(
        actor=actor,
        kitchen=batch.kitchen,
        action="receive_batch",
        subject=batch,
        before=before,
        after=snapshot(batch, "state", "jars"),
    )
    return batch


@transaction.atomic
def change_batch(
    *,
    batch: Batch,
    actor: User,
    pack: str | None = None,
    jar: str | None = None,
    jars: int | None = None,
    arrives_at: datetime | None = None,
    picks_up_at: datetime | None = None,
) -> Batch:
    """Change how a batch is packed, in which and how many jars, or when it comes and goes; None leaves it as it is.

    Another jar needs its number of jars. Refused as declaring it so would be, and once any of it is in a canner.
    """
    check_may_for(actor, batch.member, batch.kitchen, Deed.DECLARE_BATCH)
    batch = Batch.objects.select_for_update(of=("self",)).select_related("kitchen").get(pk=batch.pk)
    check_may_be_changed(batch)
    before = snapshot(batch, *_BATCH_FIELDS)
    batch.pack, batch.jar = pack or batch.pack, jar or batch.jar
    batch.jars = batch.jars if jars is None else jars
    batch.arrives_at, batch.picks_up_at = arrives_at or batch.arrives_at, picks_up_at or batch.picks_up_at
    check_jars(batch.jars)
    check_stay(batch.arrives_at, batch.picks_up_at)
    if batch.harvest_day_id is not None:
        _check_day(batch.kitchen, batch.harvest_day_id, batch.arrives_at)
    if batch.unit == Unit.JARS:
        batch.amount = Decimal(batch.jars)
    makes = weigh(
        kitchen=batch.kitchen,
        food=batch.food_id,
        pack=batch.pack,
        jar=batch.jar,
        amount=batch.amount,
        unit=batch.unit,
    )
    batch.jars_low, batch.jars_high = makes.jars_low, makes.jars_high
    batch.save()
    record(
        actor=actor,
        kitchen=batch.kitchen,
        action="change_batch",
        subject=batch,
        before=before,
        after=snapshot(batch, *_BATCH_FIELDS),
    )
    return batch


@transaction.atomic
def cancel_batch(*, batch: Batch, actor: User) -> Batch:
    """Take a batch back before any of it is in a canner. A plan that holds it shows as out of date."""
    check_may_for(actor, batch.member, batch.kitchen, Deed.DECLARE_BATCH)
    check_batch_may_become(batch, BatchState.CANCELLED)
    check_not_begun(batch)
    check_not_booked(batch)
    return set_batch_state(batch=batch, state=BatchState.CANCELLED, actor=actor)


@transaction.atomic
def set_batch_state(*, batch: Batch, state: BatchState, actor: User | None) -> Batch:
    """Move a batch on, as the table allows. The caller has checked who may."""
    check_batch_may_become(batch, state)
    before = snapshot(batch, "state")
    batch.state = state
    batch.save(update_fields=["state"])
    record(
        actor=actor,
        kitchen=batch.kitchen,
        action=f"batch_{state.value}",
        subject=batch,
        before=before,
        after=snapshot(batch, "state"),
    )
    return batch


@booking
def book_slot(
    *,
    kitchen: Kitchen,
    member: User,
    canner: Canner,
    starts_at: datetime,
    ends_at: datetime,
    actor: User,
    batch: Batch | None = None,
    now: datetime | None = None,
) -> Slot:
    """Book a canner for a member. The span holds cool-down, rest and cleaning as well.

    Refused with ``SlotTaken`` when the canner or its burner is taken, with ``OutOfService`` by rule S8.
    """
    check_may_for(actor, member, kitchen, Deed.BOOK_SLOT)
    if canner.kitchen_id != kitchen.pk or (batch is not None and batch.member_id != member.pk):
        raise NotAllowed("The canner or the batch belongs to others.", remedy="Choose your own.")
    now = now or timezone.now()
    check_slot_time(kitchen, starts_at, ends_at, now=now)
    check_usable(canner=canner, on=starts_at.astimezone(kitchen.zone).date())
    time = book_time(canner=canner, starts_at=starts_at, ends_at=ends_at, purpose=Purpose.SLOT)
    return _new_slot(time, member, batch, actor, now)


@transaction.atomic
def book_held_time(*, time: CannerTime, member: User, batch: Batch, actor: User, now: datetime) -> Slot:
    """Make a slot of canner time that was held for a member. The caller holds its row and has looked at the plan.

    Refused as booking it anew would be, but that it is taken.
    """
    check_may_for(actor, member, time.kitchen, Deed.BOOK_SLOT)
    check_slot_time(time.kitchen, time.starts_at, time.ends_at, now=now)
    check_usable(canner=time.canner, on=time.starts_at.astimezone(time.kitchen.zone).date())
    keep_time(time=time)
    return _new_slot(time, member, batch, actor, now)


@transaction.atomic
def move_slot(*, slot: Slot, to: CannerTime, batch: Batch, actor: User, now: datetime) -> Slot:
    """Give a slot other canner time, held for its member, and another batch; what it had is free again.

    Refused as cancelling it would be, and as booking the new time would be.
    """
    check_may_for(actor, slot.member, slot.kitchen, Deed.BOOK_SLOT)
    slot = Slot.objects.select_for_update(of=("self",)).select_related("canner_time").get(pk=slot.pk)
    check_may_be_cancelled(slot, now=now)
    if slot.batch is not None:
        check_not_begun(slot.batch)
    check_slot_time(slot.kitchen, to.starts_at, to.ends_at, now=now)
    check_usable(canner=to.canner, on=to.starts_at.astimezone(slot.kitchen.zone).date())
    before = _slot_as_told(slot)
    give_up_times([slot.canner_time])
    keep_time(time=to)
    slot.canner_time, slot.batch, slot.changed_at = to, batch, now
    slot.sequence += 1
    slot.save(update_fields=["canner_time", "batch", "changed_at", "sequence"])
    record(
        actor=actor,
        kitchen=slot.kitchen,
        action="move_slot",
        subject=slot,
        before=before,
        after=_slot_as_told(slot),
    )
    return slot


@transaction.atomic
def cancel_slot(*, slot: Slot, actor: User, now: datetime | None = None) -> Slot:
    """Give canner time back. The slot stays, so that calendars can show it as cancelled."""
    check_may_for(actor, slot.member, slot.kitchen, Deed.BOOK_SLOT)
    now = now or timezone.now()
    slot = Slot.objects.select_for_update(of=("self",)).select_related("canner_time").get(pk=slot.pk)
    check_may_be_cancelled(slot, now=now)
    if slot.batch is not None:
        check_not_begun(slot.batch)
    give_up_times([slot.canner_time])
    slot.state = SlotState.CANCELLED
    slot.cancelled_at = slot.changed_at = now
    slot.sequence += 1
    slot.save(update_fields=["state", "cancelled_at", "changed_at", "sequence"])
    record(
        actor=actor,
        kitchen=slot.kitchen,
        action="cancel_slot",
        subject=slot,
        before={"state": SlotState.BOOKED},
        after=snapshot(slot, "state"),
    )
    return slot


def _new_slot(time: CannerTime, member: User, batch: Batch | None, actor: User, now: datetime) -> Slot:
    slot = Slot.objects.create(
        kitchen=time.kitchen, member=member, canner_time=time, batch=batch, booked_at=now, changed_at=now
    )
    record(actor=actor, kitchen=time.kitchen, action="book_slot", subject=slot, after=_slot_as_told(slot))
    return slot


def _slot_as_told(slot: Slot) -> dict[str, object]:
    time = slot.canner_time
    return {
        "canner": time.canner_id,
        "starts_at": time.starts_at,
        "ends_at": time.ends_at,
        "member": slot.member_id,
    }


def _check_day(kitchen: Kitchen, harvest_day_id: int, arrives_at: datetime) -> None:
    day = kitchen.harvest_days.filter(pk=harvest_day_id, kind=HARVEST_DAY).first()
    if day is None:
        raise BadIntake("This kitchen has no such harvest day.", remedy="Choose one from the list.")
    check_within_day(kitchen, day, arrives_at)
