"""How a shift changes hands, inside the transaction of an action.

Whoever changes a day's rota holds the day first, then the people concerned in the order of their ids. So two who want
the last open shift come one after the other, and nobody is checked while they take a second shift elsewhere. SQLite
lets one writer in at a time anyhow; there the locks say nothing.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import F

from kitchen.audit.actions import record, snapshot
from kitchen.errors import ShiftTaken
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay
from kitchen.rota.models import FormerHolder, Shift
from kitchen.rota.rules import check_still_to_come

# Up to then "a moment ago" is a fair word for it.
_A_MOMENT = timedelta(minutes=10)
_SHOWN = ("user", "starts_at", "ends_at", "sequence")


def hold_day(day: HarvestDay) -> None:
    """Keep everybody else from changing this day's rota until the transaction ends."""
    HarvestDay.objects.select_for_update(of=("self",), no_key=True).get(pk=day.pk)


def hold_people(*people: User | None) -> None:
    """Keep these people from being put down elsewhere, on whatever day, until the transaction ends."""
    ids = sorted({person.pk for person in people if person is not None})
    list(User.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=ids).order_by("pk"))


def fresh(shift: Shift) -> Shift:
    """The shift as it is now that its day is held."""
    return Shift.objects.select_related("user", "load__canner", "harvest_day__kitchen").get(pk=shift.pk)


def pass_on(shift: Shift, to: User | None, *, action: str, actor: User, at: datetime) -> Shift:
    """Give a shift to another person, or leave it open. Who had it keeps a trace of it, for their calendar.

    ``ShiftTaken`` when it changed since it was read, whatever the locks say.
    """
    before = snapshot(shift, *_SHOWN)
    unchanged = Shift.objects.filter(
        pk=shift.pk, user=shift.user, sequence=shift.sequence, cancelled_at__isnull=True
    )
    if not unchanged.update(user=to, sequence=F("sequence") + 1, changed_at=at):
        raise taken(fresh(shift), at)
    if shift.user is not None:
        FormerHolder.objects.update_or_create(shift=shift, user=shift.user, defaults={"lost_at": at})
    if to is not None:
        FormerHolder.objects.filter(shift=shift, user=to).delete()
    changed = fresh(shift)
    record(
        actor=actor,
        kitchen=changed.harvest_day.kitchen,
        action=action,
        subject=changed,
        before=before,
        after=snapshot(changed, *_SHOWN),
    )
    return changed


def open_from(shift: Shift, *, action: str, actor: User, at: datetime) -> Shift:
    """Take its person off a shift and say that somebody is wanted.

    Of one that has begun, what was done stays with the person who did it; the rest becomes an open shift of its own.
    """
    check_still_to_come(shift, at)
    at = at.replace(second=0, microsecond=0)
    if at <= shift.starts_at:
        return pass_on(shift, None, action=action, actor=actor, at=at)
    before = snapshot(shift, *_SHOWN)
    rest = Shift.objects.create(
        harvest_day=shift.harvest_day,
        station=shift.station,
        task=shift.task,
        load=shift.load,
        asked_for=shift.asked_for,
        starts_at=at,
        ends_at=shift.ends_at,
        changed_at=at,
    )
    shift.ends_at, shift.changed_at = at, at
    shift.sequence += 1
    shift.save(update_fields=["ends_at", "changed_at", "sequence"])
    record(
        actor=actor,
        kitchen=shift.harvest_day.kitchen,
        action=action,
        subject=shift,
        before=before,
        after={**snapshot(shift, *_SHOWN), "open_shift": rest.pk},
    )
    return rest


def taken(shift: Shift, at: datetime) -> ShiftTaken:
    """The refusal for whoever came too late, or has an old page before them."""
    remedy = "Look at the rota again: another shift may be open."
    if shift.user is None:
        return ShiftTaken("This shift was given back a moment ago.", remedy=remedy)
    changed_at = shift.changed_at.astimezone(shift.harvest_day.kitchen.zone)
    when = "a moment ago" if at - changed_at < _A_MOMENT else f"on {changed_at:%-d %B}"
    return ShiftTaken(f"{shift.user} took this shift {when}.", remedy=remedy)
