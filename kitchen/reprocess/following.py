"""How jars that are processed again follow the run sheet, and a lead who throws them out."""

from __future__ import annotations

from datetime import datetime

from kitchen.batches.actions import set_batch_state
from kitchen.batches.models import BatchState
from kitchen.batches.rules import may_become
from kitchen.floor.signals import process_began, process_taken_back
from kitchen.labels.queries import lots_of_portion
from kitchen.labels.rules import why_late
from kitchen.members.models import User
from kitchen.planning.loads import hold_load, leave_out, locked_load, move_load
from kitchen.planning.models import Load, LoadState
from kitchen.reminders.planned import forget_deadline, remind_of_deadline
from kitchen.reprocess.models import ReprocessBooking
from kitchen.reprocess.queries import bookings_from, bookings_in, loads_again
from kitchen.reprocess.telling import tell_discarded
from kitchen.seals.signals import jars_discarded


def follow() -> None:
    """Listen to the run sheet and to decisions; what is heard runs in the transaction of the press."""
    jars_discarded.connect(_after_discarding, dispatch_uid="reprocess")
    process_began.connect(_after_beginning, dispatch_uid="reprocess")
    process_taken_back.connect(_after_taking_back, dispatch_uid="reprocess")


def _after_beginning(sender: type, *, load: Load, actor: User, at: datetime, **_: object) -> None:
    """A plan keeps every deadline, and a day may drift past it: such jars wait for a lead (rules S11 and S16)."""
    del sender
    for booking in bookings_in(load):
        forget_deadline(portion=booking.offer.portion, now=at)
        (lot,) = lots_of_portion(booking.offer.portion)
        late = why_late(lot, load)
        if late:
            hold_load(load=load, deviations=[late], actor=actor)


def _after_taking_back(sender: type, *, load: Load, at: datetime, **_: object) -> None:
    """The second process has not begun after all: its deadline still has to be kept in mind."""
    del sender
    for booking in bookings_in(load):
        offer = booking.offer
        remind_of_deadline(portion=offer.portion, jars=offer.jars, deadline=offer.deadline, now=at)


def _after_discarding(sender: type, *, load: Load, actor: User, at: datetime, **_: object) -> None:
    """Jars that are thrown out are not processed again: they leave the plan, and the leads are told.

    Of a load that has begun they cannot be taken out any more: it goes on hold (rule S16).
    """
    del sender
    for booking in bookings_from(load):
        for again in loads_again(booking):
            _take_out(again, booking, actor, at)
        if may_become(booking.batch, BatchState.CANCELLED) and not loads_again(booking):
            set_batch_state(batch=booking.batch, state=BatchState.CANCELLED, actor=actor)
        tell_discarded(booking, at=at)


def _take_out(again: Load, booking: ReprocessBooking, actor: User, at: datetime) -> None:
    lot = booking.offer.portion.load.lot_code
    again = locked_load(again.pk)  # It may be beginning at this moment.
    if again.state != LoadState.PLANNED:
        told = f"It holds jars of lot {lot}, which were thrown out (rule S16)."
        hold_load(load=again, deviations=[told], actor=actor)
    elif again.portions.exclude(batch=booking.batch).exists():
        leave_out(load=again, batch=booking.batch, actor=actor)
    else:
        move_load(load=again, state=LoadState.CANCELLED, at=at, actor=actor)
