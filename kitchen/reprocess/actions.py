"""Putting jars that did not seal down for another process."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from functools import partial
from time import monotonic

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.batches.actions import declare_batch
from kitchen.batches.models import BatchState
from kitchen.booking.rules import check_age, watcher_of
from kitchen.equipment.canner_time import booking
from kitchen.errors import NoTimeAgain, PlanBreaksRule, PlanOutOfDate
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import shown_time
from kitchen.members.rules import Deed, check_may_for
from kitchen.planning.actions import open_harvest_day, publish_plan, request_plan, request_rest
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.queries import published_job, started_loads
from kitchen.planning.running import run_job
from kitchen.reprocess.bridge import Way, still_offered, ways_for
from kitchen.reprocess.models import ReprocessBooking
from kitchen.reprocess.queries import bookings_on, loads_again, standing_loads
from kitchen.reprocess.rules import (
    ASK_THE_LEAD,
    Seen,
    check_in_time,
    check_nothing_moved,
    deadline_of,
    seen,
)
from kitchen.reprocess.telling import tell_leads, tell_watcher
from kitchen.rota.actions import attend, count_on
from kitchen.rota.models import Attendance
from kitchen.seals.actions import decide_offer
from kitchen.seals.models import ReprocessOffer

_PLAN_SECONDS = 1


@booking
def book_again(
    *,
    offer: ReprocessOffer,
    key: str,
    actor: User,
    watcher: User | None = None,
    now: datetime | None = None,
) -> ReprocessBooking:
    """Take an offer up and book its jars the next time that fits, as an ordinary batch, planned and judged.

    ``key`` is the way that was shown. ``watcher`` watches for a member without training (rule S9) and is told. Refused
    as ``decide_offer`` would be; with ``NoTimeAgain`` when that way is gone, would move other people's loads or let
    a process begin after the deadline (rule S11). Nothing is changed then.
    """
    now = now or timezone.now()
    # Whoever comes second waits here and finds the offer taken up, or its deadline passed.
    offer = decide_offer(offer=offer, accept=True, actor=actor, now=now)
    kitchen, member = offer.portion.load.harvest_day.kitchen, offer.portion.batch.member
    check_may_for(actor, member, kitchen, Deed.BOOK_SLOT)
    check_age(kitchen, member)
    # One booking of a kitchen after the other: two members may want the same day opened.
    Kitchen.objects.select_for_update(no_key=True).get(pk=kitchen.pk)
    way = _way(offer, key, now)
    on = way.comes_at.astimezone(kitchen.zone).date()
    watches = watcher_of(kitchen, member, watcher, on)
    day = way.day or open_harvest_day(
        kitchen=kitchen, day=on, opens_at=way.comes_at, closes_at=way.closes_at, actor=None
    )
    _put_down(day, member, watches, way, actor)
    booked = _declare(offer, day, way, actor, now)
    _plan(day, booked, now)
    if watches is not None and watches != actor:
        tell_watcher(booked, watches, way.comes_at, at=now)
    tell_leads(booked, loads_again(booked), but=actor, at=now)
    return booked


def _way(offer: ReprocessOffer, key: str, now: datetime) -> Way:
    """The way that was shown, if it is still there."""
    way = ways_for(offer, now).first
    if way is None or way.key != key:
        raise NoTimeAgain(
            "That time is gone: somebody was quicker, or it is too late to begin by then.",
            remedy="Look at the next time that fits." if way is not None else ASK_THE_LEAD,
        )
    if way.offer is not None and still_offered(offer, way.offer, now) is None:
        raise NoTimeAgain("That time no longer fits.", remedy="Look at the next time that fits.")
    return way


def _put_down(day: HarvestDay, member: User, watcher: User | None, way: Way, actor: User) -> None:
    """The member and whoever watches are there from then on, unless they said other hours themselves."""
    starts_at, ends_at = max(way.comes_at, day.opens_at), day.closes_at
    for user in (member, watcher):
        if user is None or Attendance.objects.filter(harvest_day=day, user=user).exists():
            continue
        put = attend if user in (actor, member) else count_on
        put(harvest_day=day, user=user, starts_at=starts_at, ends_at=ends_at, actor=actor)


def _declare(
    offer: ReprocessOffer, day: HarvestDay, way: Way, actor: User, now: datetime
) -> ReprocessBooking:
    before = offer.portion.batch
    batch = declare_batch(
        kitchen=before.kitchen,
        member=before.member,
        food=before.food_id,
        pack=before.pack,
        jar=before.jar,
        amount=Decimal(offer.jars),
        unit="jars",
        arrives_at=max(way.comes_at, day.opens_at),
        picks_up_at=day.closes_at,
        harvest_day_id=day.pk,
        actor=actor,
    )
    booked = ReprocessBooking.objects.create(offer=offer, batch=batch, booked_by=actor, booked_at=now)
    record(
        actor=actor,
        kitchen=before.kitchen,
        action="book_again",
        subject=booked,
        after=snapshot(booked, "offer", "batch"),
    )
    return booked


def _plan(day: HarvestDay, booked: ReprocessBooking, now: datetime) -> None:
    """Plan the day with these jars on it, hold the plan to what may not change, and make it the day's truth.

    First around the loads that stand; then, while nothing is begun, the whole day anew, by which these jars may come
    into a load with room for them.
    """
    begun = started_loads(day).exists() or now >= day.opens_at
    alone = len(bookings_on(day)) == day.batches.exclude(state=BatchState.CANCELLED).count()
    anew = partial(request_plan, harvest_day=day, actor=None, seconds_limit=_PLAN_SECONDS, now=now)
    around = partial(request_rest, harvest_day=day, actor=None, early=True, now=now)
    if published_job(day) is None or (alone and not begun):
        _try(day, booked, anew, now, keep={})
        return
    keep = seen(standing_loads(day))
    try:
        _try(day, booked, around, now, keep=keep)
    except NoTimeAgain:
        if begun:
            raise
        _try(day, booked, anew, now, keep=keep)


@transaction.atomic
def _try(
    day: HarvestDay, booked: ReprocessBooking, ask: Callable[[], PlanJob], now: datetime, *, keep: Seen
) -> None:
    """One plan, published when it keeps these loads and every deadline; else nothing is changed."""
    job = ask()
    run_job(job.pk, clock=monotonic)
    job.refresh_from_db()
    if job.plan is None:
        raise NoTimeAgain(job.failure or "That day cannot be planned now.", remedy=ASK_THE_LEAD)
    left_out = set(day.left_out.values_list("batch_id", flat=True))
    try:
        publish_plan(job=job, actor=None, now=now)
    except (PlanBreaksRule, PlanOutOfDate) as error:
        raise NoTimeAgain(error.message, remedy=ASK_THE_LEAD) from error
    if not set(day.left_out.values_list("batch_id", flat=True)) <= left_out or not loads_again(booked):
        raise NoTimeAgain("The planner found no place for these jars on that day.", remedy=ASK_THE_LEAD)
    check_nothing_moved(keep, seen(standing_loads(day)))
    for one in bookings_on(day):
        deadline = deadline_of(one.offer)
        check_in_time(loads_again(one), deadline, shown_time(day.kitchen, deadline))
