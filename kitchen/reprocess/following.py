"""How jars that are processed again follow the run sheet."""

from __future__ import annotations

from kitchen.floor.signals import process_began
from kitchen.labels.queries import lots_of_portion
from kitchen.labels.rules import why_late
from kitchen.members.models import User
from kitchen.planning.loads import hold_load
from kitchen.planning.models import Load
from kitchen.reprocess.queries import bookings_in


def follow() -> None:
    """Listen to the run sheet; what is heard runs in the transaction of the press."""
    process_began.connect(_after_beginning, dispatch_uid="reprocess")


def _after_beginning(sender: type, *, load: Load, actor: User, **_: object) -> None:
    """A plan keeps every deadline, and a day may drift past it: such jars wait for a lead (rules S11 and S16)."""
    del sender
    for booking in bookings_in(load):
        (lot,) = lots_of_portion(booking.offer.portion)
        late = why_late(lot, load)
        if late:
            hold_load(load=load, deviations=[late], actor=actor)
