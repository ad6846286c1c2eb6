"""A harvest day to come, planned by the planner, and what people have booked, offered and asked for meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from kitchen.batches.models import Batch, Slot
from kitchen.bench.bridge import what_is_canned
from kitchen.bench.sites import Site, write
from kitchen.booking.models import Hold, Waiting
from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import FeedKind
from kitchen.equipment.models import CannerTime, Purpose
from kitchen.helping.models import BusyCalendar, BusySpan, CalendarKind
from kitchen.members.models import Membership
from kitchen.planning.actions import publish_plan, request_plan
from kitchen.planning.keeping import request_rota
from kitchen.planning.models import HarvestDay, PlanJob, WhatIfJob
from kitchen.planning.running import run_job
from kitchen.rota.models import Attendance, Shift, Station, SwapOffer
from kitchen.rota.models import OfferState as SwapState
from kitchen.seals.models import OfferState, ReprocessOffer

_JARS = 7
_SLOT = timedelta(hours=3)
_FIRST_SLOT_DAY = 9
_PLAN_SECONDS = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """The day and what belongs to it; ``feed`` is the secret of the first member's calendar.

    ``planned`` is the published job, ``waiting`` one that waits, ``drawn`` a rota drawn up again. ``mine`` is a shift
    of the first member, who also has ``slot`` and ``hold``.
    """

    day: HarvestDay
    planned: PlanJob
    waiting: PlanJob
    drawn: PlanJob
    mine: Shift
    slot: Slot
    hold: Hold
    feed: str


def make_coming(site: Site, *, many: int, now: datetime) -> Coming:
    """A day tomorrow with so many batches, open shifts, offers, bookings and busy times.

    ``KitchenError`` when the planner refuses the day; it would be a fault of what is made up here.
    """
    day = _open_day(site, many, now.astimezone(site.kitchen.zone).date() + timedelta(days=1))
    planned = _run(request_plan(harvest_day=day, actor=site.leads[0], seconds_limit=_PLAN_SECONDS))
    publish_plan(job=planned, actor=site.leads[0])
    day.refresh_from_db()
    drawn = _run(request_rota(harvest_day=day, chosen={}, actor=site.leads[0]))
    mine = _open_shifts_and_offers(site, day, many)
    slots = _book(site, many, now)
    hold = _hold(site, now)
    _say_when_busy(site, day, many)
    _wait(site, many, now)
    WhatIfJob.objects.create(job=planned, requested_by=site.leads[0])
    return Coming(
        day=day,
        planned=planned,
        waiting=request_plan(harvest_day=day, actor=site.leads[0]),
        drawn=drawn,
        mine=mine,
        slot=slots[0],
        hold=hold,
        feed=_feed(site),
    )


def reopen_offers(site: Site, now: datetime) -> list[ReprocessOffer]:
    """The jars of the newest day that is over: some did not seal, and their members may have them processed again."""
    today = now.astimezone(site.kitchen.zone).date()
    newest = HarvestDay.objects.filter(kitchen=site.kitchen, date__lte=today).order_by("-date")[0]
    portions = [portion for load in newest.loads.all() for portion in load.portions.all()][:20]
    return write(
        ReprocessOffer(portion=portion, jars=1, deadline=now + timedelta(hours=8), state=OfferState.OPEN)
        for portion in portions
    )


def _open_day(site: Site, many: int, on: date) -> HarvestDay:
    day = HarvestDay.objects.create(
        kitchen=site.kitchen, date=on, opens_at=site.at(on, time(7)), closes_at=site.at(on, time(21))
    )
    write(
        Attendance(harvest_day=day, user=user, starts_at=day.opens_at, ends_at=day.closes_at)
        for user in site.people
    )
    canned = what_is_canned(site.kitchen.altitude_ft)
    write(
        Batch(
            kitchen=site.kitchen,
            member=site.members[number // 2 % len(site.members)],
            harvest_day=day,
            food_id=what.food_id,
            food_name=what.food_name,
            pack=what.pack,
            jar=what.jar,
            amount=_JARS,
            unit="jars",
            jars_low=_JARS,
            jars_high=_JARS,
            jars=_JARS,
            arrives_at=day.opens_at + timedelta(minutes=20 * (number % 12)),
            picks_up_at=day.closes_at - timedelta(minutes=1),
        )
        for number, what in ((number, canned[number % len(canned)]) for number in range(many))
    )
    return day


def _run(job: PlanJob) -> PlanJob:
    run_job(job.pk, clock=lambda: 0.0)
    job.refresh_from_db()
    return job


def _open_shifts_and_offers(site: Site, day: HarvestDay, many: int) -> Shift:
    """As many open shifts as batches, and as many shifts of the first operator that are offered to anybody."""
    write(
        Shift(
            harvest_day=day,
            station=Station.PREP,
            asked_for=True,
            starts_at=day.opens_at + timedelta(minutes=30 * (number % 20)),
            ends_at=day.opens_at + timedelta(minutes=30 * (number % 20) + 60),
        )
        for number in range(many)
    )
    starts = day.closes_at - timedelta(minutes=45)
    given = write(
        Shift(
            harvest_day=day,
            user=user,
            station=Station.FILL,
            asked_for=True,
            starts_at=starts,
            ends_at=day.closes_at,
        )
        for user in (*[site.operators[0]] * many, site.members[0])
    )
    mine = given[-1]
    write(
        SwapOffer(
            shift=shift,
            shift_sequence=shift.sequence,
            offered_by=site.operators[0],
            to=site.members[0] if number % 2 else None,
            wants=mine if number % 2 else None,
            wants_sequence=mine.sequence if number % 2 else None,
        )
        for number, shift in enumerate(given[:-1])
    )
    write(
        SwapOffer(
            shift=shift,
            shift_sequence=shift.sequence,
            offered_by=site.operators[0],
            to=site.members[0],
            state=SwapState.LAPSED,
            decided_at=day.opens_at - timedelta(days=1),
        )
        for shift in given[:-1]
    )
    return mine


def _book(site: Site, many: int, now: datetime) -> list[Slot]:
    """Bookings of the first member, on the days after the harvest day."""
    first = now.astimezone(site.kitchen.zone).date() + timedelta(days=_FIRST_SLOT_DAY)
    times = write(
        CannerTime(
            kitchen=site.kitchen,
            canner=site.canners[number % len(site.canners)],
            starts_at=starts,
            ends_at=starts + _SLOT,
            purpose=Purpose.SLOT,
        )
        for number in range(many)
        for starts in [site.at(first + timedelta(days=number // len(site.canners)), time(8))]
    )
    return write(
        Slot(kitchen=site.kitchen, member=site.members[0], canner_time=taken, changed_at=now)
        for taken in times
    )


def _hold(site: Site, now: datetime) -> Hold:
    day = now.astimezone(site.kitchen.zone).date() + timedelta(days=_FIRST_SLOT_DAY - 1)
    starts = site.at(day, time(12))
    what = what_is_canned(site.kitchen.altitude_ft)[0]
    taken = CannerTime.objects.create(
        kitchen=site.kitchen,
        canner=site.canners[0],
        starts_at=starts,
        ends_at=starts + _SLOT,
        purpose=Purpose.SLOT,
        held_until=now + timedelta(days=1),
    )
    return Hold.objects.create(
        kitchen=site.kitchen,
        member=site.members[0],
        canner_time=taken,
        food_id=what.food_id,
        pack=what.pack,
        jar=what.jar,
        jars=_JARS,
        people=1,
        arrives_at=starts - timedelta(hours=1),
        comes_at=starts - timedelta(hours=1),
    )


def _say_when_busy(site: Site, day: HarvestDay, many: int) -> None:
    """A calendar of the first member, busy on the harvest day too."""
    membership = Membership.objects.get(kitchen=site.kitchen, user=site.members[0])
    calendar = BusyCalendar.objects.create(
        membership=membership, kind=CalendarKind.FILE, name="dates.ics", read_at=day.opens_at
    )
    write(
        BusySpan(
            calendar=calendar,
            starts_at=day.opens_at + timedelta(days=number // 4, hours=number % 4 * 2),
            ends_at=day.opens_at + timedelta(days=number // 4, hours=number % 4 * 2 + 1),
        )
        for number in range(many)
    )


def _wait(site: Site, many: int, now: datetime) -> None:
    what = what_is_canned(site.kitchen.altitude_ft)[0]
    write(
        Waiting(
            kitchen=site.kitchen,
            member=site.members[0],
            day=now.date() + timedelta(days=2 + number),
            food_id=what.food_id,
            pack=what.pack,
            jar=what.jar,
            jars=_JARS,
            people=1,
            asked_at=now,
        )
        for number in range(many)
    )


def _feed(site: Site) -> str:
    """The secret of the first member's calendar."""
    address = create_feed(user=site.members[0], kitchen=site.kitchen, kind=FeedKind.MEMBER).address
    return address.rpartition("/")[2].removesuffix(".ics")
