"""How bookings follow what changes around them: a hold that lapses, a member who leaves the kitchen, a canner that may
not be used any more, another altitude.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.batches.queries import slots_standing, slots_to_come
from kitchen.booking.actions import cancel_booking, let_go, tell_time_free
from kitchen.booking.queries import lapsed_holds, open_holds_of, slots_watched_by, waiting_in
from kitchen.booking.telling import tell_doubt, tell_watcher_lost
from kitchen.booking.waiting import stop_waiting
from kitchen.equipment.bridge import why_out_of_service
from kitchen.equipment.canner_time import give_up_times
from kitchen.equipment.models import Canner
from kitchen.equipment.signals import canner_changed
from kitchen.members.models import Kitchen, Membership, User
from kitchen.members.signals import membership_ending, site_changed


def follow() -> None:
    """Listen to the apps below; what is heard runs in the transaction of the change."""
    membership_ending.connect(_before_leaving, dispatch_uid="booking")
    canner_changed.connect(_after_canner_change, dispatch_uid="booking")
    site_changed.connect(_after_site_change, dispatch_uid="booking")


def lapse_holds(*, now: datetime | None = None) -> int:
    """Free the times whose hold has lapsed, and tell who waits for one; how many they were.

    The hold itself stays: its member may still confirm, if nobody else was quicker (``book_hold``).
    """
    now = now or timezone.now()
    freed = 0
    for hold_id in list(lapsed_holds(now).values_list("pk", flat=True)):
        with transaction.atomic():
            hold = lapsed_holds(now).select_for_update(of=("self",)).filter(pk=hold_id).first()
            if hold is None:
                continue  # Confirmed, let go or chosen anew meanwhile.
            give_up_times([hold.canner_time])
            tell_time_free(hold.canner_time, now)
            freed += 1
    return freed


def give_back_all(*, kitchen: Kitchen, user: User, actor: User, at: datetime) -> None:
    """Free what a person who leaves holds and booked here from now on, and let them wait no longer. Who counts on them
    at a canner is told.

    It belongs into the caller's transaction. A time that has begun stays: its jars are in a canner.
    """
    for waiting in waiting_in(kitchen, at.astimezone(kitchen.zone).date()).filter(member=user):
        stop_waiting(waiting=waiting, actor=actor, now=at)
    for hold in open_holds_of(user, kitchen):
        let_go(hold=hold, actor=actor, now=at)
    for slot in slots_to_come(user, kitchen, at):
        cancel_booking(slot=slot, actor=actor, now=at)
    for slot in slots_watched_by(user, kitchen, at):
        tell_watcher_lost(slot, user, at=at)


def _before_leaving(sender: type, *, membership: Membership, actor: User, at: datetime, **_: object) -> None:
    del sender
    give_back_all(kitchen=membership.kitchen, user=membership.user, actor=actor, at=at)


def _after_canner_change(sender: type, *, canner: Canner, at: datetime, **_: object) -> None:
    """Rule S8: who booked a canner that may not be used on their day hears of it at once."""
    del sender
    for slot in slots_standing(canner.kitchen, at).filter(canner_time__canner=canner):
        reason = why_out_of_service(canner, slot.canner_time.starts_at.astimezone(canner.kitchen.zone).date())
        if reason:
            tell_doubt(slot, reason, at=at)


def _after_site_change(sender: type, *, kitchen: Kitchen, at: datetime, **_: object) -> None:
    """Rule S1: pressures and times follow the altitude, so what a member was shown may not hold any more."""
    del sender
    for slot in slots_standing(kitchen, at):
        tell_doubt(
            slot,
            f"The kitchen is now said to be at {kitchen.altitude_ft:,} ft, {kitchen.time_zone}: pressure and time "
            "may be other than you were shown.",
            at=at,
        )
