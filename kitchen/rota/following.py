"""How the rota follows what changes in the apps below it: a plan published, a day closed, a membership ended."""

from __future__ import annotations

from datetime import datetime

from kitchen.members.models import Membership, User
from kitchen.members.signals import membership_ended
from kitchen.planning.models import HarvestDay
from kitchen.planning.publishing import standing_shifts
from kitchen.planning.signals import day_closed, plan_published
from kitchen.rota.lapsing import lapse_and_tell, lapse_offers
from kitchen.rota.leaving import leave_kitchen
from kitchen.rota.models import Shift
from kitchen.rota.reminding import remind_of_shifts
from kitchen.rota.telling_plan import tell_new_plan


def follow() -> None:
    """Listen to the apps below; each of these runs in the transaction of the change."""
    plan_published.connect(_after_plan, dispatch_uid="rota")
    day_closed.connect(_after_close, dispatch_uid="rota")
    membership_ended.connect(_after_leaving, dispatch_uid="rota")


def _after_plan(
    sender: type,
    *,
    day: HarvestDay,
    shifts_before: tuple[Shift, ...],
    replaces: bool,
    at: datetime,
    **_: object,
) -> None:
    del sender
    remind_of_shifts(day, at=at)
    lapsed = lapse_offers(day, by=None, at=at)
    tell_new_plan(day, shifts_before, standing_shifts(day, at), lapsed, replaces=replaces, at=at)


def _after_close(sender: type, *, day: HarvestDay, actor: User, at: datetime, **_: object) -> None:
    del sender
    lapse_and_tell(day, by=actor, at=at)


def _after_leaving(sender: type, *, membership: Membership, actor: User, at: datetime, **_: object) -> None:
    del sender
    leave_kitchen(kitchen=membership.kitchen, user=membership.user, actor=actor, at=at)
