"""Booking another process for jars that did not seal: the next time that fits, before 24 hours are over (rule S11)."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import transaction

from kitchen.batches.models import Batch
from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.errors import AlreadyDecided, BadTime, KitchenError, NotAllowed, NoTimeAgain
from kitchen.floor.actions import jars_out, record_event, withdraw_event
from kitchen.floor.models import EventKind
from kitchen.members.models import CannerTraining, OpeningHours
from kitchen.planning.loads import hold_load
from kitchen.planning.models import DayState, HarvestDay, Load, LoadState
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.reminders.planned import remind_of_deadline
from kitchen.reprocess.actions import book_again
from kitchen.reprocess.bridge import ways_for
from kitchen.reprocess.models import ReprocessBooking
from kitchen.reprocess.queries import loads_again
from kitchen.reprocess.rules import deadline_of, process_starts
from kitchen.rota.models import Shift
from kitchen.seals.actions import decide_hold, record_seal_check
from kitchen.seals.models import HoldOutcome, OfferState, ReprocessOffer
from kitchen.seals.rules import REFRIGERATE
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_beans_out
from tests.factories.sites import DAY, declare, make_open_day, make_site, publish
from tests.factories.walks import rows

pytestmark = pytest.mark.django_db

SUNDAY = DAY + timedelta(days=1)


@pytest.fixture
def run() -> Run:
    """Two of seven quarts did not seal, counted at eleven on Saturday night; the kitchen opens at seven on Sunday."""
    made = make_beans_out(make_site())
    made.day.state = DayState.CLOSED
    made.day.save()
    count(made)
    return made


def count(run: Run) -> ReprocessOffer:
    at = night(run)
    counted = record_seal_check(
        portion=run.portion, sealed=5, unsealed=2, broken=0, by=run.site.member, at=at, now=at
    )
    assert counted.offer is not None
    return counted.offer


def night(run: Run) -> datetime:
    return run.at(BEANS_OUT) + timedelta(hours=12)


def offer(run: Run) -> ReprocessOffer:
    return ReprocessOffer.objects.get(portion=run.portion)


def book(run: Run, *, key: str = "", now: datetime | None = None, alone: bool = False) -> ReprocessBooking:
    at = now or night(run)
    way = ways_for(offer(run), at).first
    shown = way.key if way is not None else ""
    watcher = None if alone else run.site.operator
    return book_again(offer=offer(run), key=key or shown, actor=run.site.member, watcher=watcher, now=at)


def refused(run: Run, refusal: type[KitchenError], **given: object) -> str:
    """The refusal in words; nothing is written."""
    before = rows()
    with pytest.raises(refusal) as caught:
        book(run, **given)  # type: ignore[arg-type]  # One test passes one of several.
    assert rows() == before
    return str(caught.value)


def test_accepting_books_a_planned_load_before_the_deadline(run: Run) -> None:
    booked = book(run)
    (load,) = loads_again(booked)
    assert (offer(run).state, load.state, load.harvest_day.state) == ("booked", "planned", "published")
    assert load.harvest_day.date == SUNDAY
    assert night(run) < process_starts(load) < deadline_of(offer(run)) == run.at(57) + timedelta(days=1)
    assert (load.process_minutes, load.pressure_psi) == (25, 15)
    (portion,) = load.portions.all()
    assert (portion.jars, portion.batch, load.water_jars) == (2, booked.batch, load.water_jars)
    assert load.canner_time is not None
    assert load.canner_time.occupies
    # An ordinary batch, and one row that says whose jars they were.
    batch, before = booked.batch, run.portion.batch
    same = ("member_id", "food_id", "pack", "jar")
    assert [getattr(batch, name) for name in same] == [getattr(before, name) for name in same]
    assert booked.offer.portion == run.portion


def begin(run: Run, load: Load, at: datetime) -> None:
    """The second process of the two jars, at pressure at this time."""
    for kind, minutes in BEAN_TAPS[:4]:
        when = at + timedelta(minutes=minutes - dict(BEAN_TAPS)[EventKind.AT_PRESSURE])
        record_event(load=load, kind=kind, at=when, actor=run.site.operator, now=when)
    load.refresh_from_db()


def test_a_second_process_that_begins_too_late_holds_without_anybody_noting_it(run: Run) -> None:
    """A plan keeps the deadline, but the day drifted past it (rules S11 and S16)."""
    (load,) = loads_again(book(run))
    begin(run, load, deadline_of(offer(run)))
    assert load.on_hold
    told = f"Jars of lot {run.load.lot_code}-A were processed again 0 min too late (rule S11)."
    assert load.deviation == told


def test_a_second_process_in_time_holds_nothing_and_is_the_last(run: Run) -> None:
    """24 hours count from the first process, so a jar that does not seal again is for the refrigerator."""
    (load,) = loads_again(book(run))
    first = deadline_of(offer(run))
    begin(run, load, first - timedelta(minutes=1))
    assert (load.on_hold, load.deviation) == (False, "")
    start = first - timedelta(minutes=1 + dict(BEAN_TAPS)[EventKind.AT_PRESSURE])
    for kind, minutes in BEAN_TAPS[4:]:
        at = start + timedelta(minutes=minutes)
        record_event(load=load, kind=kind, at=at, actor=run.site.operator, now=at)
    out = start + timedelta(minutes=BEANS_OUT)
    jars_out(load=load, at=out, actor=run.site.operator, now=out)
    (portion,) = load.portions.all()
    assert {one.reprocess_by for one in Reminder.objects.filter(portion=portion)} == {first}
    at = out + timedelta(hours=12)
    counted = record_seal_check(
        portion=portion, sealed=1, unsealed=1, broken=0, by=run.site.member, at=at, now=at
    )
    assert (counted.offer, counted.advice) == (None, REFRIGERATE)


def test_a_trained_person_watches_and_is_told_and_so_are_the_leads(run: Run) -> None:
    (load,) = loads_again(book(run))
    watch = Shift.objects.get(load=load, station="canner")
    assert watch.user == run.site.operator
    told = Reminder.objects.get(kind=Kind.SAFETY, recipient=run.site.operator)
    assert told.news["title"] == f"{run.site.member} counts on you at a canner"
    news = Reminder.objects.get(kind=Kind.SAFETY, recipient=run.site.lead).news
    assert news["title"] == f"2 jars of lot {run.load.lot_code} are processed again"
    assert f"load {load.lot_code}" in news["lines"][0]
    assert news["lines"][1].startswith("It must begin before Sun 13 Sep 09:57")


def test_nobody_is_put_down_to_watch_by_default(run: Run) -> None:
    assert "Choose a trained person" in refused(run, NotAllowed, alone=True)


def test_a_trained_member_watches_alone(run: Run) -> None:
    CannerTraining.objects.create(
        membership=run.site.member.memberships.get(), trained_on=DAY - timedelta(days=9), trained_by="Office"
    )
    watch = Shift.objects.get(load__in=loads_again(book(run, alone=True)), station="canner")
    assert watch.user == run.site.member


def test_an_offer_is_taken_up_once(run: Run) -> None:
    book(run)
    before = rows()
    with pytest.raises(AlreadyDecided):
        book(run, key="time|whatever")
    assert rows() == before


def test_the_deadline_may_pass_meanwhile(run: Run) -> None:
    shown = ways_for(offer(run), night(run)).first
    assert shown is not None
    over = deadline_of(offer(run))
    assert "deadline for a reprocess has passed" in refused(run, BadTime, key=shown.key, now=over)


def test_a_time_that_somebody_else_took_is_refused_and_the_next_is_offered(run: Run) -> None:
    shown = ways_for(offer(run), night(run)).first
    assert shown is not None
    assert shown.offer is not None
    take(run, shown.offer.canner, shown.offer.starts_at, shown.offer.ends_at)
    assert "That time is gone" in refused(run, NoTimeAgain, key=shown.key)
    following = ways_for(offer(run), night(run)).first
    assert following is None or following.key != shown.key


def test_nothing_fits_is_said_with_its_reason(run: Run) -> None:
    for canner in Canner.objects.filter(kitchen=run.site.kitchen):
        take(run, canner, run.site.at(7, day=SUNDAY), run.site.at(21, day=SUNDAY))
    ways = ways_for(offer(run), night(run))
    assert ways.first is None
    assert ways.why_not == (
        "Saturday 12 September: the harvest day is over.",
        "Sunday 13 September: no canner of the kind this food needs is free long enough before the deadline.",
    )


def test_a_kitchen_that_opens_too_late_does_not_serve(run: Run) -> None:
    OpeningHours.objects.filter(weekday=SUNDAY.weekday()).update(opens="10:00")
    assert (
        ways_for(offer(run), night(run)).why_not[-1]
        == "Sunday 13 September: the kitchen is not open in time."
    )


def test_a_time_whose_process_begins_after_the_deadline_does_not_serve(run: Run) -> None:
    OpeningHours.objects.filter(weekday=SUNDAY.weekday()).update(opens="09:30")
    ways = ways_for(offer(run), night(run))
    assert ways.first is None
    assert "before the deadline" in ways.why_not[-1]


def test_a_second_member_joins_the_day_that_the_first_one_opened(run: Run) -> None:
    first = book(run)
    other = another(run)
    second = book_again(
        offer=other,
        key=ways_for(other, night(run)).first.key,  # type: ignore[union-attr]  # It fits.
        actor=run.site.other,
        watcher=run.site.operator,
        now=night(run),
    )
    assert first.batch.harvest_day == second.batch.harvest_day
    (one,), (two,) = loads_again(first), loads_again(second)
    assert max(process_starts(one), process_starts(two)) < deadline_of(offer(run))
    assert HarvestDay.objects.filter(date=SUNDAY).count() == 1


def test_on_a_planned_harvest_day_nobody_elses_load_is_moved(run: Run) -> None:
    day = make_open_day(run.site, day=SUNDAY)
    # A second pressure canner, which may be used once its gauge was checked (rule S8).
    run.site.dial.gauge_checks.create(checked_on=DAY, error_psi=0, checked_by="Extension office")
    declare(run.site, day, member=run.site.other)
    publish(run.site, day)
    before = list(Load.objects.filter(harvest_day=day).values("pk", "canner", "canner_time__starts_at"))
    booked = book(run)
    (load,) = loads_again(booked)
    assert (load.harvest_day, process_starts(load) < deadline_of(offer(run))) == (day, True)
    kept = Load.objects.filter(pk__in=[one["pk"] for one in before])
    assert list(kept.values("pk", "canner", "canner_time__starts_at")) == before


def test_where_the_only_canner_is_taken_the_day_stays_as_it_was(run: Run) -> None:
    day = make_open_day(run.site, day=SUNDAY)
    declare(run.site, day, member=run.site.other)
    publish(run.site, day)
    assert "Refrigerate the jars now" in refused(run, NoTimeAgain)


def test_jars_join_a_planned_load_with_room_for_them(run: Run) -> None:
    day = make_open_day(run.site, day=SUNDAY)
    declare(run.site, day, member=run.site.other, jars=4)
    publish(run.site, day)
    (load,) = Load.objects.filter(harvest_day=day)
    assert loads_again(book(run)) == [load]
    assert sorted(load.portions.values_list("jars", flat=True)) == [2, 4]


def throw_out(run: Run, at: datetime) -> None:
    """The lot turns out to be unsafe after its unsealed jars were put down for another process."""
    hold_load(load=run.load, deviations=["The gauge reads high."], actor=run.site.lead)
    decide_hold(load=run.load, outcome=HoldOutcome.DISCARDED, by=run.site.lead, reason="Too low", at=at)


def test_jars_thrown_out_after_they_were_booked_leave_the_plan(run: Run) -> None:
    booked = book(run)
    (load,) = loads_again(booked)
    throw_out(run, night(run))
    load.refresh_from_db()
    booked.batch.refresh_from_db()
    assert (load.state, booked.batch.state) == (LoadState.CANCELLED, "cancelled")
    assert load.canner_time is not None
    assert not CannerTime.objects.get(pk=load.canner_time.pk).occupies
    news = Reminder.objects.filter(kind=Kind.SAFETY, recipient=run.site.member)
    assert f"Jars of lot {run.load.lot_code} are not processed again" in [one.news["title"] for one in news]


def test_jars_thrown_out_leave_a_load_that_they_share(run: Run) -> None:
    day = make_open_day(run.site, day=SUNDAY)
    declare(run.site, day, member=run.site.other, jars=4)
    publish(run.site, day)
    booked = book(run)
    (load,) = loads_again(booked)
    places = 4 + 2 + load.water_jars
    throw_out(run, night(run))
    load.refresh_from_db()
    assert (load.state, 4 + load.water_jars) == (LoadState.PLANNED, places)
    assert list(load.portions.values_list("jars", flat=True)) == [4]
    assert loads_again(booked) == []


def test_jars_thrown_out_while_they_are_processed_again_hold_that_load(run: Run) -> None:
    (load,) = loads_again(book(run))
    begin(run, load, deadline_of(offer(run)) - timedelta(minutes=30))
    throw_out(run, deadline_of(offer(run)))
    load.refresh_from_db()
    assert (load.state, load.on_hold) == (LoadState.RUNNING, True)
    assert load.deviation == f"It holds jars of lot {run.load.lot_code}, which were thrown out (rule S16)."


def test_its_deadline_is_kept_in_mind_until_the_second_process_has_begun(run: Run) -> None:
    (load,) = loads_again(book(run))
    standing = offer(run)
    with transaction.atomic():
        remind_of_deadline(
            portion=standing.portion, jars=standing.jars, deadline=standing.deadline, now=night(run)
        )
    reminder = Reminder.objects.get(kind=Kind.REPROCESS)
    begin(run, load, deadline_of(standing) - timedelta(minutes=30))
    reminder.refresh_from_db()
    assert reminder.state == State.CANCELLED
    line = load.run_events.order_by("-pk")[0]
    withdraw_event(
        event=line,
        actor=run.site.operator,
        note="Wrong load",
        now=deadline_of(standing) - timedelta(minutes=20),
    )
    reminder.refresh_from_db()
    assert reminder.state == State.DUE, "it had not begun after all"


def test_a_harvest_day_that_is_not_planned_promises_nothing(run: Run) -> None:
    make_open_day(run.site, day=SUNDAY)
    assert ways_for(offer(run), night(run)).why_not[-1] == (
        "Sunday 13 September: a harvest day that is not planned yet."
    )


def test_others_may_not_book_for_a_member(run: Run) -> None:
    way = ways_for(offer(run), night(run)).first
    assert way is not None
    for user in (run.site.other, make_site().lead):
        with pytest.raises(NotAllowed):
            book_again(offer=offer(run), key=way.key, actor=user, now=night(run))
    booked = book_again(
        offer=offer(run), key=way.key, actor=run.site.lead, watcher=run.site.operator, now=night(run)
    )
    assert (booked.booked_by, booked.batch.member) == (run.site.lead, run.site.member)


def take(run: Run, canner: Canner, starts_at: datetime, ends_at: datetime) -> None:
    CannerTime.objects.create(
        kitchen=run.site.kitchen, canner=canner, starts_at=starts_at, ends_at=ends_at, purpose=Purpose.SLOT
    )


def another(run: Run) -> ReprocessOffer:
    """The same of another member, in the same load."""
    batch = declare(run.site, make_open_day(run.site, day=DAY - timedelta(days=3)), member=run.site.other)
    Batch.objects.filter(pk=batch.pk).update(harvest_day=run.day)
    portion = run.load.portions.create(
        batch=batch, jars=7, process_key=run.portion.process_key, headspace_in=1
    )
    assert run.fresh().state == LoadState.CLOSED
    return ReprocessOffer.objects.create(
        portion=portion, jars=1, deadline=offer(run).deadline, state=OfferState.OPEN
    )
