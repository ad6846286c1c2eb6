"""Who may write in the record of a load."""

from __future__ import annotations

from django.db.models import Q

from kitchen.members.models import User
from kitchen.members.queries import ids_that_may_watch
from kitchen.members.rules import Deed, can, check_may
from kitchen.planning.models import HarvestDay, Load


def check_may_run(actor: User, load: Load) -> None:
    """Refuse whoever may not write in this load's record.

    Operators write in every record. In canner time that a member booked, so does whoever booked it or watches in it,
    while their canner training counts (rule S9).
    """
    if not _runs_own(actor, load):
        check_may(actor, load.harvest_day.kitchen, Deed.RUN_LOAD)


def can_run(actor: User, load: Load) -> bool:
    """True when ``check_may_run`` refuses nothing."""
    return can(actor, load.harvest_day.kitchen, Deed.RUN_LOAD) or _runs_own(actor, load)


def booked_loads_of(user: User, day: HarvestDay) -> frozenset[int]:
    """The keys of the loads on a day of booked time that somebody booked or watches in."""
    theirs = day.loads.filter(
        Q(slot__member=user) | Q(shifts__user=user, shifts__cancelled_at__isnull=True), slot__isnull=False
    )
    return frozenset(theirs.values_list("pk", flat=True))


def is_trained(user: User, day: HarvestDay) -> bool:
    """True when the person's canner training counts on the day, and they are of age for it (rule S9)."""
    return user.pk in ids_that_may_watch(day.kitchen, day.date)


def _runs_own(actor: User, load: Load) -> bool:
    return (
        load.slot_id is not None
        and load.pk in booked_loads_of(actor, load.harvest_day)
        and is_trained(actor, load.harvest_day)
    )
