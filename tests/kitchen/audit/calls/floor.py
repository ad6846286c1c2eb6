"""Calls of what is done at the canners and to the jars that come out of them."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from kitchen.floor.actions import jars_out, withdraw_event
from kitchen.floor.handing_over import hand_over
from kitchen.floor.models import EventKind, RunEvent
from kitchen.labels.actions import move_jars
from kitchen.labels.models import MoveKind
from kitchen.learning.actions import time_work, withdraw_work
from kitchen.learning.models import TimedKind
from kitchen.planning.loads import hold_load
from kitchen.planning.models import Load
from kitchen.records.actions import review_record, send_back_record, sign_record
from kitchen.records.content import record_of
from kitchen.reminders.actions import tell, try_again
from kitchen.reminders.models import Reminder, State
from kitchen.seals.actions import decide_hold, decide_offer, expire_offers, record_seal_check
from kitchen.seals.models import HoldOutcome, ReprocessOffer
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run
from tests.factories.furnished import Furnished
from tests.factories.sites import Site
from tests.kitchen.audit.calls.leaving import Deed, leaves


def _taps(run: Run, until: int) -> None:
    for kind, minutes in BEAN_TAPS[:until]:
        run.tap(kind, minutes)


@leaves("floor.actions.record_event", "record_event")
def _(run: Run) -> Deed:
    _taps(run, 1)
    return lambda: run.tap(EventKind.STEADY_STEAM, 17)


@leaves("floor.actions.withdraw_event", "withdraw_event")
def _(run: Run) -> Deed:
    _taps(run, 2)
    newest = RunEvent.objects.filter(load=run.load).order_by("-pk")[0]
    return lambda: withdraw_event(event=newest, actor=run.site.operator, note="A slip.", now=run.at(18))


@leaves("floor.handing_over.hand_over", "record_event")
def _(run: Run) -> Deed:
    _taps(run, 4)
    at = run.at(40)
    return lambda: hand_over(load=run.load, to=run.site.lead, at=at, actor=run.site.operator, now=at)


@leaves(
    "floor.actions.jars_out",
    "record_event",
    "load_out",
    "note_load",
    why="The line of the run sheet, the state of the load, and what its times teach.",
)
def _(run: Run) -> Deed:
    _taps(run, len(BEAN_TAPS))
    at = run.at(BEANS_OUT)
    return lambda: jars_out(load=run.load, at=at, actor=run.site.operator, now=at)


@leaves("records.actions.sign_record", "record_signed")
def _(out: Run) -> Deed:
    digest = record_of(out.load).digest
    return lambda: sign_record(load=out.load, by=out.site.operator, digest=digest, now=out.at(200))


def _signed(out: Run) -> str:
    digest = record_of(out.load).digest
    sign_record(load=out.load, by=out.site.operator, digest=digest, now=out.at(200))
    return record_of(out.load).digest


@leaves("records.actions.review_record", "record_reviewed")
def _(out: Run) -> Deed:
    digest = _signed(out)
    return lambda: review_record(load=out.load, by=out.site.lead, digest=digest, now=out.at(300))


@leaves("records.actions.send_back_record", "record_sent_back")
def _(out: Run) -> Deed:
    digest = _signed(out)
    return lambda: send_back_record(
        load=out.load, by=out.site.lead, digest=digest, note="The weight is missing.", now=out.at(300)
    )


@leaves(
    "seals.actions.record_seal_check",
    "record_seal_check",
    "load_closed",
    "batch_done",
    why="Nothing is left to count, so the load and the batch are done.",
)
def _(out: Run) -> Deed:
    at = out.at(BEANS_OUT) + timedelta(hours=24)
    return lambda: record_seal_check(
        portion=out.portion, sealed=7, unsealed=0, broken=0, by=out.site.member, at=at, now=at
    )


def _offered(out: Run) -> ReprocessOffer:
    return ReprocessOffer.objects.create(portion=out.portion, jars=2, deadline=out.at(57) + timedelta(days=1))


@leaves("seals.actions.decide_offer", "decide_offer")
def _(out: Run) -> Deed:
    offer, at = _offered(out), out.at(BEANS_OUT) + timedelta(hours=13)
    return lambda: decide_offer(offer=offer, accept=True, actor=out.site.member, now=at)


@leaves("seals.actions.expire_offers", "decide_offer")
def _(out: Run) -> Deed:
    offer = _offered(out)
    return lambda: expire_offers(now=offer.deadline + timedelta(minutes=1))


@leaves(
    "seals.actions.decide_hold",
    "decide_hold",
    "end_hold",
    why="The decision, and the load that is on hold no more.",
)
def _(out: Run) -> Deed:
    hold_load(load=out.load, deviations=["The pressure fell."], actor=None)
    load = Load.objects.get(pk=out.load.pk)
    return lambda: decide_hold(
        load=load, outcome=HoldOutcome.RELEASED, by=out.site.lead, reason="It was a slip of the pen."
    )


@leaves("labels.actions.move_jars", "move_jars")
def _(out: Run) -> Deed:
    at = out.at(BEANS_OUT) + timedelta(hours=24)
    record_seal_check(portion=out.portion, sealed=7, unsealed=0, broken=0, by=out.site.member, at=at, now=at)
    now = at + timedelta(days=1)
    return lambda: move_jars(
        portion=out.portion, kind=MoveKind.TAKEN_HOME, jars=1, by=out.site.member, now=now
    )


@leaves("learning.actions.time_work", "time_work")
def _(out: Run) -> Deed:
    return lambda: time_work(
        batch=out.portion.batch, kind=TimedKind.PREP, jars=7, hands=2, minutes=30, actor=out.site.operator
    )


@leaves("learning.actions.withdraw_work", "withdraw_work")
def _(out: Run) -> Deed:
    timed = time_work(
        batch=out.portion.batch, kind=TimedKind.PREP, jars=7, hands=2, minutes=30, actor=out.site.operator
    )
    return lambda: withdraw_work(timed=timed, actor=out.site.operator)


@leaves("reminders.actions.tell", "tell")
def _(site: Site) -> Deed:
    return lambda: tell(
        kitchen=site.kitchen,
        to=[site.member, site.other],
        title="A shift is open",
        lines=["Somebody is wanted."],
        path="/",
        at=timezone.now(),
    )


@leaves("reminders.actions.try_again", "try_reminder_again")
def _(at: Furnished) -> Deed:
    reminder = Reminder.objects.filter(kitchen=at.site.kitchen)[0]
    Reminder.objects.filter(pk=reminder.pk).update(state=State.FAILED)
    reminder.refresh_from_db()
    return lambda: try_again(reminder=reminder, actor=at.site.lead)
