"""Waiting for a time on a full day, and being told once when one comes free."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record
from kitchen.booking.bridge import Wanted, fits_on
from kitchen.booking.models import Waiting
from kitchen.booking.queries import waiting_in
from kitchen.booking.rules import check_age, check_group
from kitchen.booking.telling import tell_free
from kitchen.errors import BadTime
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import membership_of
from kitchen.members.rules import Deed, check_may_for


@transaction.atomic
def wait_for(
    *, kitchen: Kitchen, member: User, wanted: Wanted, day: date, actor: User, now: datetime | None = None
) -> Waiting:
    """Note that a member wants to hear when a time comes free. Asking twice for the same waits once.

    ``BadTime`` for a day that is over, and for one on which a time fits.
    """
    now = now or timezone.now()
    check_may_for(actor, member, kitchen, Deed.BOOK_SLOT)
    check_group(kitchen, wanted.people)
    check_age(kitchen, member)
    if day < now.astimezone(kitchen.zone).date():
        raise BadTime("That day is over.", remedy="Choose a day to come.")
    # One press of a member after the other, so that two presses at once wait once.
    kitchen.memberships.select_for_update().get(user=member)
    what = {"food_id": wanted.food_id, "pack": wanted.pack, "jar": wanted.jar}
    again = waiting_in(kitchen, day).filter(member=member, day=day, **what).first()
    if again is not None:
        return again
    if fits_on(kitchen, member, wanted, day, now):
        raise BadTime("A time fits on that day.", remedy="Choose it from the list.")
    waiting = Waiting.objects.create(kitchen=kitchen, member=member, day=day, asked_at=now, **asdict(wanted))
    told = {"day": day, "member": member.pk, **asdict(wanted)}
    record(actor=actor, kitchen=kitchen, action="wait_for_time", subject=waiting, after=told)
    return waiting


@transaction.atomic
def stop_waiting(*, waiting: Waiting, actor: User, now: datetime | None = None) -> None:
    """Wait no longer; once told, or stopped before, nothing changes."""
    check_may_for(actor, waiting.member, waiting.kitchen, Deed.BOOK_SLOT)
    now = now or timezone.now()
    still = Waiting.objects.filter(pk=waiting.pk, told_at__isnull=True, ended_at__isnull=True)
    if still.update(ended_at=now):
        record(
            actor=actor,
            kitchen=waiting.kitchen,
            action="stop_waiting",
            subject=waiting,
            after={"ended_at": now},
        )


def tell_waiting(*, kitchen: Kitchen, day: date, now: datetime) -> None:
    """In the transaction in which canner time came free: whoever waits for that day, and whom a time fits, hears of it.

    Each is told once, and everybody whom it fits: the first to confirm has it. Nobody who has left the kitchen.
    """
    waiting = waiting_in(kitchen, now.astimezone(kitchen.zone).date()).filter(day=day)
    for one in waiting.select_for_update(of=("self",)):
        wanted = Wanted(food_id=one.food_id, pack=one.pack, jar=one.jar, jars=one.jars, people=one.people)
        if membership_of(one.member, kitchen) is None or not fits_on(kitchen, one.member, wanted, day, now):
            continue
        one.told_at = now
        one.save(update_fields=["told_at"])
        tell_free(one, at=now)
