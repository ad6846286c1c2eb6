"""Calls of what is done to days, plans, shifts and booked time."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

from kitchen.batches.actions import book_slot
from kitchen.booking.actions import ChosenTime, book_hold, cancel_booking, hold_time, let_go
from kitchen.booking.bridge import Wanted, offers
from kitchen.booking.models import Hold, Waiting
from kitchen.booking.waiting import stop_waiting, wait_for
from kitchen.harvest.actions import come_to_help
from kitchen.planning.actions import (
    change_hours,
    close_harvest_day,
    open_harvest_day,
    publish_plan,
    request_plan,
)
from kitchen.planning.asking import request_what_if, stop_what_if
from kitchen.planning.jobs import ask_stop, fail_job, finish_job, start_job
from kitchen.planning.keeping import request_rota
from kitchen.planning.models import PlanJob
from kitchen.rota.actions import (
    attend,
    count_on,
    give_back,
    hand_over,
    leave,
    stay_on,
    take,
    want_helpers,
    want_no_more,
    withdraw_attendance,
)
from kitchen.rota.models import Attendance, Shift, Station, SwapOffer
from kitchen.rota.swaps import accept_offer, offer_swap, withdraw_offer
from tests.factories.canner_runs import Run
from tests.factories.shifts import make_shift
from tests.factories.sites import DAY, Site, declare, make_open_day, plan, publish
from tests.kitchen.audit.calls.leaving import Deed, leaves

NOW = datetime(2026, 9, 10, 12, tzinfo=UTC)
BEANS = Wanted(food_id="snap_beans", pack="raw", jar="quart", jars=7)


@leaves("planning.actions.open_harvest_day", "open_harvest_day")
def _(site: Site) -> Deed:
    return lambda: open_harvest_day(
        kitchen=site.kitchen, day=DAY, opens_at=site.at(7), closes_at=site.at(20), actor=site.lead
    )


@leaves("planning.actions.change_hours", "change_hours")
def _(site: Site) -> Deed:
    day = make_open_day(site, helpers=False)
    return lambda: change_hours(harvest_day=day, opens_at=site.at(8), closes_at=site.at(19), actor=site.lead)


@leaves("planning.actions.close_harvest_day", "close_harvest_day")
def _(site: Site) -> Deed:
    day = make_open_day(site, helpers=False)
    return lambda: close_harvest_day(harvest_day=day, actor=site.lead)


def _queued(site: Site) -> PlanJob:
    day = make_open_day(site)
    declare(site, day)
    return request_plan(harvest_day=day, actor=site.lead, seconds_limit=1)


@leaves("planning.actions.request_plan", "request_plan")
def _(site: Site) -> Deed:
    day = make_open_day(site)
    declare(site, day)
    return lambda: request_plan(harvest_day=day, actor=site.lead, seconds_limit=1)


@leaves("planning.jobs.ask_stop", "ask_stop")
def _(site: Site) -> Deed:
    job = _queued(site)
    return lambda: ask_stop(job=job, actor=site.lead)


@leaves("planning.jobs.finish_job", "finish_plan")
def _(site: Site) -> Deed:
    job = _queued(site)
    start_job(job_id=job.pk)
    return lambda: finish_job(job_id=job.pk, plan={"loads": []}, day={})


@leaves("planning.jobs.fail_job", "fail_plan")
def _(site: Site) -> Deed:
    job = _queued(site)
    start_job(job_id=job.pk)
    return lambda: fail_job(job_id=job.pk, failure="The disk is full.")


@leaves(
    "planning.actions.publish_plan",
    "batch_planned",
    "publish_plan",
    why="Each batch that has a place now has a line of its own.",
)
def _(site: Site) -> Deed:
    day = make_open_day(site)
    declare(site, day)
    job = plan(site, day)
    return lambda: publish_plan(job=job, actor=site.lead, now=day.opens_at - timedelta(days=1))


@leaves("planning.keeping.request_rota", "request_rota")
def _(site: Site) -> Deed:
    day = make_open_day(site)
    declare(site, day)
    publish(site, day)
    now = day.opens_at - timedelta(days=1)
    return lambda: request_rota(harvest_day=day, chosen={}, actor=site.lead, now=now)


@leaves("planning.asking.request_what_if", "request_what_if")
def _(site: Site) -> Deed:
    day = make_open_day(site)
    declare(site, day)
    job = plan(site, day)
    return lambda: request_what_if(job=job, actor=site.lead)


@leaves("planning.asking.stop_what_if", "stop_what_if")
def _(site: Site) -> Deed:
    day = make_open_day(site)
    declare(site, day)
    asked = request_what_if(job=plan(site, day), actor=site.lead)
    return lambda: stop_what_if(asked=asked, actor=site.lead)


def _held(site: Site) -> Hold:
    offer = offers(site.kitchen, site.member, BEANS, DAY, NOW, most=1)[0]
    chosen = ChosenTime(
        canner=offer.canner, arrives_at=offer.arrives_at, starts_at=offer.starts_at, ends_at=offer.ends_at
    )
    return hold_time(
        kitchen=site.kitchen, member=site.member, wanted=BEANS, chosen=chosen, actor=site.member, now=NOW
    )


@leaves("booking.actions.hold_time", "hold_time")
def _(site: Site) -> Deed:
    return lambda: _held(site)


@leaves("booking.actions.let_go", "let_go")
def _(site: Site) -> Deed:
    held = _held(site)
    return lambda: let_go(hold=held, actor=site.member, now=NOW)


@leaves(
    "booking.actions.cancel_booking",
    "cancel_slot",
    "load_cancelled",
    "batch_cancelled",
    why="The time is given back, and with it go its load and what was to be brought.",
)
def _(site: Site) -> Deed:
    slot = book_hold(hold=_held(site), actor=site.member, watcher=site.operator, now=NOW)
    return lambda: cancel_booking(slot=slot, actor=site.member, now=NOW)


def _wait(site: Site) -> Waiting:
    return wait_for(
        kitchen=site.kitchen, member=site.member, wanted=BEANS, day=DAY, actor=site.member, now=NOW
    )


def _fill(site: Site) -> None:
    """The one pressure canner that may be used is taken for the whole day."""
    site.kitchen.opening_hours.update(closes=time(17))
    book_slot(
        kitchen=site.kitchen,
        member=site.other,
        canner=site.weighted,
        starts_at=site.at(7),
        ends_at=site.at(17),
        actor=site.other,
        now=NOW,
    )


@leaves("booking.waiting.wait_for", "wait_for_time")
def _(site: Site) -> Deed:
    _fill(site)
    return lambda: _wait(site)


@leaves("booking.waiting.stop_waiting", "stop_waiting")
def _(site: Site) -> Deed:
    _fill(site)
    waiting = _wait(site)
    return lambda: stop_waiting(waiting=waiting, actor=site.member, now=NOW)


# --- People on a day ----------------------------------------------------------------------------------------


@leaves("harvest.actions.come_to_help", "attend")
def _(site: Site) -> Deed:
    day = make_open_day(site, helpers=False)
    return lambda: come_to_help(
        harvest_day=day, user=site.member, starts_at=site.at(8), ends_at=site.at(12), actor=site.member
    )


@leaves("rota.actions.attend", "attend")
def _(site: Site) -> Deed:
    day = make_open_day(site, helpers=False)
    return lambda: attend(
        harvest_day=day, user=site.member, starts_at=site.at(8), ends_at=site.at(12), actor=site.member
    )


@leaves("rota.actions.count_on", "count_on")
def _(site: Site) -> Deed:
    day = make_open_day(site, helpers=False)
    return lambda: count_on(
        harvest_day=day, user=site.member, starts_at=site.at(8), ends_at=site.at(12), actor=site.lead
    )


def _hours(site: Site) -> Attendance:
    return Attendance.objects.get(harvest_day=make_open_day(site), user=site.member)


@leaves("rota.actions.withdraw_attendance", "withdraw_attendance")
def _(site: Site) -> Deed:
    hours = _hours(site)
    return lambda: withdraw_attendance(attendance=hours, actor=site.member, at=site.at(6))


@leaves(
    "rota.actions.stay_on", "withdraw_attendance", "attend", why="Hours are never changed, but written anew."
)
def _(site: Site) -> Deed:
    hours = _hours(site)
    hours.ends_at = site.at(12)
    hours.save()
    return lambda: stay_on(attendance=hours, ends_at=site.at(14), actor=site.lead)


def _shift(run: Run) -> Shift:
    return make_shift(run, run.site.member, asked_for=True, starts=60)


@leaves(
    "rota.actions.leave",
    "leave",
    "open_shift",
    why="A line for the hours that end, one for the shift that is open now.",
)
def _(run: Run) -> Deed:
    _shift(run)
    return lambda: leave(harvest_day=run.day, user=run.site.member, at=run.at(0), actor=run.site.lead)


@leaves("rota.actions.give_back", "give_back")
def _(run: Run) -> Deed:
    shift = _shift(run)
    return lambda: give_back(shift=shift, actor=run.site.member, at=run.at(0))


@leaves("rota.actions.take", "take_shift")
def _(run: Run) -> Deed:
    shift = make_shift(run, None, asked_for=True, starts=60)
    return lambda: take(shift=shift, actor=run.site.other, at=run.at(0))


@leaves("rota.actions.hand_over", "hand_over")
def _(run: Run) -> Deed:
    shift = _shift(run)
    return lambda: hand_over(shift=shift, to=run.site.other, actor=run.site.lead, at=run.at(0))


@leaves("rota.actions.want_helpers", "want_helpers")
def _(run: Run) -> Deed:
    return lambda: want_helpers(
        harvest_day=run.day,
        station=Station.PREP,
        starts_at=run.at(60),
        ends_at=run.at(120),
        count=1,
        actor=run.site.lead,
        at=run.at(0),
    )


@leaves("rota.actions.want_no_more", "want_no_more")
def _(run: Run) -> Deed:
    shift = make_shift(run, None, asked_for=True, starts=60)
    return lambda: want_no_more(shift=shift, actor=run.site.lead, at=run.at(0))


def _offer(run: Run) -> SwapOffer:
    return offer_swap(shift=_shift(run), actor=run.site.member, to=run.site.other, at=run.at(0))


@leaves("rota.swaps.offer_swap", "offer_swap")
def _(run: Run) -> Deed:
    return lambda: _offer(run)


@leaves("rota.swaps.withdraw_offer", "decide_offer")
def _(run: Run) -> Deed:
    offer = _offer(run)
    return lambda: withdraw_offer(offer=offer, actor=run.site.member, at=run.at(1))


@leaves(
    "rota.swaps.accept_offer",
    "decide_offer",
    "swap_shift",
    why="The offer is settled, and the shift has another holder.",
)
def _(run: Run) -> Deed:
    offer = _offer(run)
    return lambda: accept_offer(offer=offer, actor=run.site.other, at=run.at(1))
