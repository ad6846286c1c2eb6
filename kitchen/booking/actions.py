"""Holding a time, booking it, moving it and giving it back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.batches.actions import (
    book_held_time,
    cancel_batch,
    cancel_slot,
    declare_batch,
    move_slot,
)
from kitchen.batches.bridge import weigh
from kitchen.batches.models import Batch, BatchState, Slot
from kitchen.batches.rules import check_may_be_cancelled, may_become
from kitchen.booking.bridge import Offer, Wanted, offer_at
from kitchen.booking.models import Hold
from kitchen.booking.queries import open_holds_of, watchers_in
from kitchen.booking.rules import check_age, check_group, check_still_wanted, check_watch_fits, watcher_of
from kitchen.booking.telling import tell_watcher, tell_watcher_free
from kitchen.booking.waiting import tell_waiting
from kitchen.equipment.canner_time import book_time, booking, give_up_times
from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.equipment.rules import check_span
from kitchen.errors import BadTime, NotAllowed
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may_for
from kitchen.planning.booked import cancel_booked_loads, write_booked_loads
from kitchen.planning.models import HarvestDay
from kitchen.rota.reminding import remind_of_shifts


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenTime:
    """A time as it was offered: see ``Offer``."""

    canner: Canner
    arrives_at: datetime
    starts_at: datetime
    ends_at: datetime


@booking
def hold_time(
    *,
    kitchen: Kitchen,
    member: User,
    wanted: Wanted,
    chosen: ChosenTime,
    actor: User,
    replaces: Slot | None = None,
    now: datetime | None = None,
) -> Hold:
    """Hold a time as it was offered, for the kitchen's ``hold_minutes``; what the member held before is let go.

    Pressing twice holds it once. Refused with ``SlotTaken``, which names what is in the way; with ``BadTime`` when the
    planner would now say otherwise; as a declaration would be, when nothing is published for it (rule S1).
    """
    now = now or timezone.now()
    check_may_for(actor, member, kitchen, Deed.BOOK_SLOT)
    check_group(kitchen, wanted.people)
    check_age(kitchen, member)
    _check_chosen(kitchen, chosen)
    _check_published(kitchen, wanted)
    if replaces is not None:
        _check_may_move(replaces, member, now)
    # One choice of a member after the other, so that two presses at once do not hold two times.
    kitchen.memberships.select_for_update().get(user=member)
    standing = open_holds_of(member, kitchen)
    again = _same(standing, wanted, chosen, replaces, now)
    if again is not None:
        return again
    for other in standing:
        _let_go(other, now)
    time = _held_time(chosen.canner, chosen.starts_at, chosen.ends_at, now)
    offer = _check_as_offered(kitchen, member, wanted, time, chosen.arrives_at, now)
    hold = Hold.objects.create(
        kitchen=kitchen,
        member=member,
        canner_time=time,
        arrives_at=chosen.arrives_at,
        comes_at=offer.comes_at,
        replaces=replaces,
        **asdict(wanted),
    )
    told = snapshot(time, "canner", "starts_at", "ends_at", "held_until")
    record(actor=actor, kitchen=kitchen, action="hold_time", subject=hold, after=told)
    return hold


@booking
def book_hold(*, hold: Hold, actor: User, watcher: User | None = None, now: datetime | None = None) -> Slot:
    """Book what is held. A hold that lapsed is taken again if nobody else was quicker.

    ``watcher`` is who watches for a member without training (rule S9). Pressing twice books once. Refused like
    ``hold_time``.
    """
    now = now or timezone.now()
    check_may_for(actor, hold.member, hold.kitchen, Deed.BOOK_SLOT)
    hold = Hold.objects.select_for_update(of=("self",)).select_related("kitchen", "member").get(pk=hold.pk)
    if hold.slot is not None:
        return hold.slot
    check_still_wanted(hold)
    check_age(hold.kitchen, hold.member)
    day = hold.comes_at.astimezone(hold.kitchen.zone).date()
    watches = watcher_of(hold.kitchen, hold.member, watcher, day)
    # One booking of a kitchen after the other: canners are locked, room on cooling tables is not.
    Kitchen.objects.select_for_update(no_key=True).get(pk=hold.kitchen_id)
    time = _still_held(hold, now)
    offer = _check_as_offered(hold.kitchen, hold.member, wanted_of(hold), time, hold.arrives_at, now)
    batch = declare_batch(
        kitchen=hold.kitchen,
        member=hold.member,
        food=hold.food_id,
        pack=hold.pack,
        jar=hold.jar,
        amount=Decimal(hold.jars),
        unit="jars",
        arrives_at=hold.comes_at,
        picks_up_at=time.ends_at,
        actor=actor,
    )
    before = () if hold.replaces is None else watchers_in(hold.replaces)
    slot = _new_or_moved(hold, time, batch, actor, now)
    watching = watches or hold.member
    loads = write_booked_loads(slot=slot, loads=offer.planned, watcher=watching, actor=actor, at=now)
    check_watch_fits(loads, watching)
    _tell_free(slot, [one for one in before if one != watching], actor, now)
    hold.slot, hold.canner_time, hold.watcher = slot, time, watches
    hold.save(update_fields=["slot", "canner_time", "watcher"])
    if watches is not None and watches != actor:
        tell_watcher(hold, watches, at=now)
    _remind_of_watches(slot, now)
    return slot


@transaction.atomic
def let_go(*, hold: Hold, actor: User, now: datetime | None = None) -> None:
    """Free a time that is held; letting it go again, or after it was booked, changes nothing."""
    check_may_for(actor, hold.member, hold.kitchen, Deed.BOOK_SLOT)
    now = now or timezone.now()
    hold = Hold.objects.select_for_update(of=("self",)).select_related("canner_time").get(pk=hold.pk)
    if hold.slot_id is not None or hold.let_go_at is not None:
        return
    _let_go(hold, now)
    record(actor=actor, kitchen=hold.kitchen, action="let_go", subject=hold, after={"let_go_at": now})
    tell_time_free(hold.canner_time, now)


@transaction.atomic
def cancel_booking(*, slot: Slot, actor: User, now: datetime | None = None) -> Slot:
    """Give canner time back, and take back what was to be canned in it."""
    now = now or timezone.now()
    watching = watchers_in(slot)
    slot = cancel_slot(slot=slot, actor=actor, now=now)
    cancel_booked_loads(slot=slot, actor=actor, at=now)
    _remind_of_watches(slot, now)
    _take_back(slot.batch, actor)
    _tell_free(slot, watching, actor, now)
    tell_time_free(slot.canner_time, now)
    return slot


def wanted_of(hold: Hold) -> Wanted:
    """What is to be canned in a held time."""
    return Wanted(food_id=hold.food_id, pack=hold.pack, jar=hold.jar, jars=hold.jars, people=hold.people)


def tell_time_free(time: CannerTime, now: datetime) -> None:
    """In the transaction in which it came free: tell whoever waits for that day."""
    tell_waiting(kitchen=time.kitchen, day=time.starts_at.astimezone(time.kitchen.zone).date(), now=now)


def _check_chosen(kitchen: Kitchen, chosen: ChosenTime) -> None:
    check_span(chosen.arrives_at, chosen.ends_at)
    check_span(chosen.starts_at, chosen.ends_at)
    if chosen.canner.kitchen_id != kitchen.pk:
        raise NotAllowed("The canner belongs to another kitchen.", remedy="Choose one of this kitchen.")


def _check_published(kitchen: Kitchen, wanted: Wanted) -> None:
    weigh(
        kitchen=kitchen,
        food=wanted.food_id,
        pack=wanted.pack,
        jar=wanted.jar,
        amount=Decimal(wanted.jars),
        unit="jars",
    )


def _check_as_offered(
    kitchen: Kitchen, member: User, wanted: Wanted, time: CannerTime, arrives_at: datetime, now: datetime
) -> Offer:
    """The offer, if the planner still says what the member was shown."""
    offer = offer_at(kitchen, member, wanted, time.canner, arrives_at, now, without=[time])
    if offer is None or (offer.starts_at, offer.ends_at) != (time.starts_at, time.ends_at):
        raise BadTime(
            "This time no longer fits: the kitchen's hours, its canner or its figures have changed, or it is too late "
            "to begin.",
            remedy="Look at the times again.",
        )
    return offer


def _same(
    standing: QuerySet[Hold], wanted: Wanted, chosen: ChosenTime, replaces: Slot | None, now: datetime
) -> Hold | None:
    """The hold that a press before made for just this, while it lasts."""
    return standing.filter(
        canner_time__canner=chosen.canner,
        canner_time__starts_at=chosen.starts_at,
        canner_time__ends_at=chosen.ends_at,
        canner_time__occupies=True,
        canner_time__held_until__gt=now,
        arrives_at=chosen.arrives_at,
        replaces=replaces,
        **asdict(wanted),
    ).first()


def _let_go(hold: Hold, now: datetime) -> None:
    give_up_times([hold.canner_time])
    hold.let_go_at = now
    hold.save(update_fields=["let_go_at"])


def _still_held(hold: Hold, now: datetime) -> CannerTime:
    """The time held, or taken again after it lapsed; its row is locked, so that nobody frees it meanwhile."""
    rows = CannerTime.objects.select_for_update(of=("self",)).select_related("canner__kitchen", "kitchen")
    time = rows.get(pk=hold.canner_time_id)
    if time.occupies and time.held_until is not None and time.held_until > now:
        return time
    give_up_times([time])
    return _held_time(time.canner, time.starts_at, time.ends_at, now)


def _held_time(canner: Canner, starts_at: datetime, ends_at: datetime, now: datetime) -> CannerTime:
    """Canner time taken for as long as the kitchen holds it."""
    return book_time(
        canner=canner,
        starts_at=starts_at,
        ends_at=ends_at,
        purpose=Purpose.SLOT,
        held_until=now + timedelta(minutes=canner.kitchen.hold_minutes),
        now=now,
    )


def _new_or_moved(hold: Hold, time: CannerTime, batch: Batch, actor: User, now: datetime) -> Slot:
    if hold.replaces is None:
        return book_held_time(time=time, member=hold.member, batch=batch, actor=actor, now=now)
    before, freed = hold.replaces.batch, hold.replaces.canner_time
    slot = move_slot(slot=hold.replaces, to=time, batch=batch, actor=actor, now=now)
    _take_back(before, actor)
    tell_time_free(freed, now)
    return slot


def _tell_free(slot: Slot, watchers: Iterable[User], actor: User, now: datetime) -> None:
    """Whoever was to watch in a time that was given up hears that nobody counts on them; members know themselves."""
    hold = slot.holds.select_related("canner_time__canner", "kitchen", "member").order_by("-pk").first()
    for watcher in watchers:
        if hold is not None and watcher not in (slot.member, actor):
            tell_watcher_free(hold, watcher, at=now)


def _remind_of_watches(slot: Slot, now: datetime) -> None:
    """Whoever watches in a booked time is told the evening before, and no more on a day that it was moved from."""
    for day in HarvestDay.objects.filter(loads__slot=slot).select_related("kitchen").distinct():
        remind_of_shifts(day, at=now)


def _take_back(batch: Batch | None, actor: User) -> None:
    if batch is not None and batch.harvest_day_id is None and may_become(batch, BatchState.CANCELLED):
        cancel_batch(batch=batch, actor=actor)


def _check_may_move(slot: Slot, member: User, now: datetime) -> None:
    if slot.member_id != member.pk:
        raise NotAllowed("This booking is another member's.", remedy="Change your own.")
    check_may_be_cancelled(slot, now=now)
