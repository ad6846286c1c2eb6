"""Who may write in the record of a load."""

from __future__ import annotations

from kitchen.members.models import User
from kitchen.members.queries import who_may_watch
from kitchen.members.rules import Deed, can, check_may
from kitchen.planning.models import Load


def check_may_run(actor: User, load: Load) -> None:
    """Refuse whoever may not write in this load's record.

    Operators write in every record. In canner time that a member booked, so does whoever booked it or watches in it,
    while their canner training counts (rule S9).
    """
    if not runs_own(actor, load):
        check_may(actor, load.harvest_day.kitchen, Deed.RUN_LOAD)


def can_run(actor: User, load: Load) -> bool:
    """True when ``check_may_run`` refuses nothing."""
    return can(actor, load.harvest_day.kitchen, Deed.RUN_LOAD) or runs_own(actor, load)


def runs_own(actor: User, load: Load) -> bool:
    """True for whoever booked the time that a load runs in or watches in it, trained as rule S9 asks."""
    if load.slot is None:
        return False
    watches = load.shifts.filter(user=actor, cancelled_at__isnull=True)
    trained = who_may_watch(load.harvest_day.kitchen, load.harvest_day.date)
    is_theirs = load.slot.member_id == actor.pk or watches.exists()
    return is_theirs and actor.pk in {one.user_id for one in trained}
