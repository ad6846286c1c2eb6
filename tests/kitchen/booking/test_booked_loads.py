"""Booked canner time is run as a harvest day is: run sheet, record, reminders, and nobody at the canner untrained."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.actions import cancel_batch, change_batch, receive_batch
from kitchen.batches.models import Batch, BatchState, Slot
from kitchen.booking.actions import book_hold, cancel_booking
from kitchen.booking.bridge import Wanted, offers
from kitchen.booking.following import give_back_all
from kitchen.booking.telling import tell_doubt
from kitchen.calendars.queries import loads_shown
from kitchen.errors import BadHarvestDay, BadIntake, BadTime, NotAllowed, OutOfOrder
from kitchen.floor.actions import jars_out, record_event
from kitchen.floor.models import EventKind
from kitchen.members.actions import end_membership
from kitchen.members.models import CannerTraining, User
from kitchen.planning.actions import open_harvest_day
from kitchen.planning.booked import cancel_booked_loads
from kitchen.planning.bridge import day_of
from kitchen.planning.models import HarvestDay, Load, LoadState
from kitchen.planning.queries import booked_days, carried_minutes, days_of, next_day
from kitchen.records.actions import review_record, sign_record
from kitchen.records.content import record_of
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.rota.actions import give_back, hand_over
from tests.factories.canner_runs import BEAN_TAPS
from tests.factories.sites import DAY, Site, declare, make_open_day, make_site, publish
from tests.factories.walks import signed_in
from tests.kitchen.booking.test_booking import BEANS, NOW, book, hold, times

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def load_of(slot: Slot) -> Load:
    return slot.loads.exclude(state=LoadState.CANCELLED).get()


def train(site: Site, user: User) -> None:
    membership = site.kitchen.memberships.get(user=user)
    CannerTraining.objects.create(membership=membership, trained_on=date(2026, 1, 5), trained_by="The lead")


def run(load: Load, actor: User, *, taps: int = len(BEAN_TAPS)) -> None:
    """The load as planned, its steps as long after loading as those of ``BEAN_TAPS``."""
    begins = load.phases.get(kind="loading").starts_at
    for kind, minutes in BEAN_TAPS[:taps]:
        at = begins + timedelta(minutes=minutes)
        record_event(load=load, kind=kind, at=at, actor=actor, now=at)


def test_a_booking_is_written_as_it_was_offered(site: Site) -> None:
    offer = times(site)[0]
    load = load_of(book(site, offer))
    told = offer.loads[0]
    kinds = [(kind.replace("-", "_"), start, end) for kind, start, end in told.phases]
    assert list(load.phases.order_by("starts_at").values_list("kind", "starts_at", "ends_at")) == kinds
    # USDA AIB 539 (2015), Guide 4: snap beans, raw pack, quarts, weighted gauge above 1,000 ft: 25 min at 15 lb.
    assert (load.process_minutes, load.pressure_psi, load.canner) == (25, 15, site.weighted)
    portion = load.portions.get()
    assert (portion.jars, portion.headspace_in, portion.batch.member) == (7, 1, site.member)
    assert portion.batch.state == BatchState.PLANNED
    watch = load.shifts.get()
    assert (watch.user, watch.station) == (site.operator, "canner")
    assert watch.starts_at == load.phases.get(kind="heat_up").starts_at
    assert watch.ends_at == load.phases.get(kind="process").ends_at


def test_its_day_is_no_harvest_day(site: Site) -> None:
    load = load_of(book(site, times(site)[0]))
    day = load.harvest_day
    assert list(booked_days(site.kitchen, DAY)) == [day]
    assert not days_of(site.kitchen).exists()
    assert next_day(site.kitchen, DAY) is None
    lead, here = signed_in(site.lead), [site.kitchen.slug, day.uuid]
    for name in ("harvest:day", "home:intake", "rota:mine", "rota:everybody"):
        assert lead.get(reverse(name, args=here)).status_code == 404
    with pytest.raises(BadIntake, match="no such harvest day"):
        declare(site, day)
    # Others still book around it, and a harvest day may be held on the same date.
    assert times(site, member=site.other)
    opened = open_harvest_day(
        kitchen=site.kitchen, day=DAY, opens_at=site.at(14), closes_at=site.at(20), actor=site.lead
    )
    assert list(days_of(site.kitchen)) == [opened]
    assert carried_minutes(HarvestDay(kitchen=site.kitchen, date=DAY + timedelta(days=7))) == {}


def test_lot_codes_of_a_date_differ(site: Site) -> None:
    """A lot code names kitchen, date, canner and load: two bookings and a harvest day share them."""
    first = load_of(book(site, times(site)[0]))
    second = load_of(book(site, times(site, member=site.other)[0], member=site.other))
    day = open_harvest_day(
        kitchen=site.kitchen,
        day=DAY,
        opens_at=second.phases.get(kind="unloading").ends_at + timedelta(minutes=30),
        closes_at=site.at(20),
        actor=site.lead,
    )
    for user in (site.lead, site.operator, site.member, site.other):
        day.attendances.create(user=user, starts_at=day.opens_at, ends_at=day.closes_at)
    declare(site, day)
    publish(site, day)
    on_harvest_day = day.loads.get()
    assert on_harvest_day.canner == first.canner == second.canner
    assert [first.number, second.number, on_harvest_day.number] == [1, 2, 3]
    assert len({load.lot_code for load in Load.objects.all()}) == 3


def test_the_run_sheet_is_reached_from_the_booking(site: Site) -> None:
    now = timezone.now()
    tomorrow = (now.astimezone(site.kitchen.zone) + timedelta(days=1)).date()
    offer = offers(site.kitchen, site.member, BEANS, tomorrow, now)[0]
    held = hold(site, offer, now=now)
    load = load_of(book_hold(hold=held, actor=site.member, watcher=site.operator, now=now))
    here = [site.kitchen.slug, load.harvest_day.uuid]
    sheet = reverse("floor:run-sheet", args=[*here, load.canner.uuid])
    member = signed_in(site.member)
    for name in ("booking:page", "home:kitchen"):
        shown = member.get(reverse(name, args=[site.kitchen.slug])).content.decode()
        assert f'href="{sheet}"' in shown
    operators = signed_in(site.operator).get(reverse("home:kitchen", args=[site.kitchen.slug]))
    assert reverse("floor:canners", args=here) in operators.content.decode()
    shown = member.get(sheet).content.decode()
    assert "extension office" in shown  # The caution (rule S17).
    assert load.lot_code in shown
    assert reverse("booking:page", args=[site.kitchen.slug]) in shown
    assert signed_in(site.lead).get(reverse("records:day", args=here)).status_code == 200


def test_moving_writes_anew_and_giving_back_takes_all_of_it(site: Site) -> None:
    slot = book(site, times(site)[0])
    before = load_of(slot)
    held = hold(site, times(site)[0], replaces=slot)
    book_hold(hold=held, actor=site.member, watcher=site.lead, now=NOW)
    after = load_of(slot)
    assert after.pk != before.pk
    assert after.phases.get(kind="loading").starts_at > before.phases.get(kind="loading").starts_at
    assert before.shifts.filter(cancelled_at__isnull=True).count() == 0
    assert after.shifts.get().user == site.lead
    cancel_booking(slot=slot, actor=site.member, now=NOW)
    assert set(Load.objects.values_list("state", flat=True)) == {LoadState.CANCELLED}
    assert not after.shifts.filter(cancelled_at__isnull=True).exists()
    assert list(booked_days(site.kitchen, DAY)) == []


def test_what_is_in_a_canner_is_not_given_back(site: Site) -> None:
    """However early it was begun: the slot's own time has not come."""
    slot = book(site, times(site)[0])
    load = load_of(slot)
    early = load.phases.get(kind="loading").starts_at - timedelta(minutes=90)
    record_event(load=load, kind=EventKind.LOADED, at=early, actor=site.operator, now=early)
    with pytest.raises(BadIntake, match="in a canner already"):
        cancel_booking(slot=slot, actor=site.member, now=early)
    held = hold(site, times(site)[0], replaces=slot, now=NOW)
    with pytest.raises(BadIntake, match="in a canner already"):
        book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    assert load_of(slot).state == LoadState.RUNNING


def test_the_member_is_reminded_as_after_a_harvest_day(site: Site) -> None:
    load = load_of(book(site, times(site)[0]))
    run(load, site.operator)
    out = load.phases.get(kind="unloading").ends_at
    jars_out(load=load, at=out, actor=site.operator, now=out)
    due = Reminder.objects.get(recipient=site.member, kind=Kind.SEAL_CHECK)
    assert due.due_at == out + timedelta(hours=24)
    load.refresh_from_db()
    assert not load.on_hold


def test_a_trained_member_runs_their_own_load_and_no_other(site: Site) -> None:
    """Rule S9: at the canner stands somebody trained. Elsewhere a record is the operators' to write."""
    load = load_of(book(site, times(site)[0]))
    other = load_of(book(site, times(site, member=site.other)[0], member=site.other))
    at = load.phases.get(kind="heat_up").starts_at
    with pytest.raises(NotAllowed):
        record_event(load=load, kind=EventKind.LOADED, at=at, actor=site.member, now=at)
    train(site, site.member)
    with pytest.raises(NotAllowed):
        record_event(load=other, kind=EventKind.LOADED, at=at, actor=site.member, now=at)
    record_event(load=load, kind=EventKind.LOADED, at=at, actor=site.member, now=at)
    load.refresh_from_db()
    assert not load.on_hold


def test_nobody_trained_at_the_canner_holds_the_jars(site: Site) -> None:
    """Rule S9 is looked at as the heat goes on: a training may end between booking and canning."""
    load = load_of(book(site, times(site)[0]))
    CannerTraining.objects.update(expires_on=DAY - timedelta(days=1))
    at = load.phases.get(kind="heat_up").starts_at
    record_event(load=load, kind=EventKind.LOADED, at=at, actor=site.operator, now=at)
    load.refresh_from_db()
    assert load.on_hold
    assert "rule S9" in load.deviation


def test_a_watch_that_was_promised_is_not_simply_given_back(site: Site) -> None:
    load = load_of(book(site, times(site)[0]))
    with pytest.raises(BadHarvestDay, match="canner time that was booked"):
        give_back(shift=load.shifts.get(), actor=site.operator, at=NOW)


def test_who_leaves_the_kitchen_leaves_no_load_behind(site: Site) -> None:
    book(site, times(site)[0])
    give_back_all(kitchen=site.kitchen, user=site.member, actor=site.lead, at=NOW)
    assert not Load.objects.exclude(state=LoadState.CANCELLED).exists()


def test_more_loads_of_a_day_need_no_more_queries(site: Site) -> None:
    """At two canners, for whoever runs them all and for whoever runs their own."""

    def queries(user: User) -> int:
        client = signed_in(user)
        with CaptureQueriesContext(connection) as seen:
            shown = client.get(sheet).content.decode()
        assert shown.count("<article") + shown.count('class="card') > 0
        return len(seen)

    train(site, site.member)
    load = load_of(book(site, times(site)[0]))
    sheet = reverse("floor:canners", args=[site.kitchen.slug, load.harvest_day.uuid])
    before = queries(site.operator), queries(site.member)
    sauce = Wanted(food_id="applesauce", pack="hot", jar="pint", jars=7)
    elsewhere = next(one for one in times(site, sauce, most=99) if one.canner == site.boiling)
    held = hold(site, elsewhere, wanted=sauce)
    book_hold(hold=held, actor=site.member, now=NOW)
    assert {one.canner for one in load.harvest_day.loads.all()} == {site.weighted, site.boiling}
    assert (queries(site.operator), queries(site.member)) == before


def test_several_loads_of_a_booking(site: Site) -> None:
    wanted = replace(BEANS, jars=12)
    held = hold(site, times(site, wanted)[0], wanted=wanted)
    slot = book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    loads = list(slot.loads.order_by("number"))
    assert [load.number for load in loads] == [1, 2]
    assert sum(load.portions.get().jars for load in loads) == 12


def test_each_load_of_a_booking_has_its_own_times(site: Site) -> None:
    wanted = replace(BEANS, jars=12)
    held = hold(site, times(site, wanted)[0], wanted=wanted)
    slot = book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    first, second = slot.loads.order_by("number")
    assert first.begins_at == first.phases.get(kind="loading").starts_at
    assert first.ends_at is not None
    assert second.begins_at is not None
    assert first.begins_at < first.ends_at <= second.begins_at
    shown = signed_in(site.member).get(reverse("home:kitchen", args=[site.kitchen.slug])).content.decode()
    for load in (first, second):
        begins = load.begins_at
        assert begins is not None
        assert f"{begins.astimezone(site.kitchen.zone):%H:%M}" in shown


def test_who_watches_is_told_the_evening_before(site: Site) -> None:
    slot = book(site, times(site)[0])
    reminder = Reminder.objects.get(kind=Kind.SHIFT)
    assert (reminder.recipient, reminder.state) == (site.operator, State.DUE)
    assert reminder.due_at == site.at(18, day=DAY - timedelta(days=1))
    cancel_booking(slot=slot, actor=site.member, now=NOW)
    reminder.refresh_from_db()
    assert reminder.state == State.CANCELLED


def test_what_is_booked_is_changed_by_the_booking_alone(site: Site) -> None:
    """Rule S1: its loads were planned for just this food, pack, jar and number."""
    batch = load_of(book(site, times(site)[0])).portions.get().batch
    with pytest.raises(BadIntake, match="Canner time is booked"):
        change_batch(batch=batch, actor=site.member, jar="pint", jars=7)
    with pytest.raises(BadIntake, match="Canner time is booked"):
        cancel_batch(batch=batch, actor=site.member)
    with pytest.raises(BadIntake, match="Canner time is booked"):
        receive_batch(batch=batch, actor=site.operator, jars=9)


def test_jars_that_the_process_is_not_for_are_held(site: Site) -> None:
    """Rule S1, planted past every action: the run sheet says a pint's time, the batch has quarts."""
    pints = replace(BEANS, jar="pint")
    held = hold(site, times(site, pints)[0], wanted=pints)
    load = load_of(book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW))
    Batch.objects.update(jar="quart")
    at = load.phases.get(kind="heat_up").starts_at
    record_event(load=load, kind=EventKind.LOADED, at=at, actor=site.operator, now=at)
    load.refresh_from_db()
    assert load.on_hold
    assert "rule S1" in load.deviation


def test_a_load_that_began_meanwhile_is_not_cancelled(site: Site) -> None:
    slot = book(site, times(site)[0])
    Load.objects.update(state=LoadState.RUNNING)
    with pytest.raises(OutOfOrder, match="running"):
        cancel_booked_loads(slot=slot, actor=site.member, at=NOW)
    assert load_of(slot).state == LoadState.RUNNING


def test_nobody_watches_more_canners_than_the_kitchen_allows(site: Site) -> None:
    """Rule S9, over all that a person promised."""
    site.kitchen.canners_per_person = 1
    site.kitchen.save()
    book(site, times(site)[0])
    sauce = Wanted(food_id="applesauce", pack="hot", jar="pint", jars=7)
    before = Slot.objects.count()
    at_once = next(one for one in times(site, sauce, member=site.other) if one.canner == site.boiling)
    held = hold(site, at_once, member=site.other, wanted=sauce)
    with pytest.raises(BadTime, match="more than 1 canners at once"):
        book_hold(hold=held, actor=site.other, watcher=site.operator, now=NOW)
    assert Slot.objects.count() == before
    book_hold(hold=held, actor=site.other, watcher=site.lead, now=NOW)


def test_a_harvest_day_does_not_count_on_who_watches_elsewhere(site: Site) -> None:
    watch = load_of(book(site, times(site)[0])).shifts.get()
    (person,) = (one for one in day_of(make_open_day(site)).people if one.id == str(site.operator.pk))
    at = (watch.starts_at - site.at(0)) // timedelta(minutes=1)
    assert not any(span.start <= at < span.end for span in person.hours)
    assert any(span.start <= at - 1 < span.end for span in person.hours)


def test_who_counts_on_somebody_is_told_that_they_left(site: Site) -> None:
    slot = book(site, times(site)[0])
    end_membership(membership=site.kitchen.memberships.get(user=site.operator), actor=site.lead, at=NOW)
    told = Reminder.objects.filter(kind=Kind.SAFETY, news__title__startswith="Nobody watches")
    assert {one.recipient for one in told} == {site.member, site.lead}
    shift = load_of(slot).shifts.get(cancelled_at__isnull=True)
    assert shift.user is None
    lead = signed_in(site.lead)
    assert lead.get(reverse("rota:shift", args=[site.kitchen.slug, shift.uuid])).status_code == 200
    answer = lead.post(
        reverse("rota:hand-over", args=[site.kitchen.slug, shift.uuid]), {"to": site.lead.pk}, follow=True
    )
    assert answer.status_code == 200


def test_who_watched_is_told_when_the_booking_moves_to_another(site: Site) -> None:
    slot = book(site, times(site)[0])
    hand_over(shift=load_of(slot).shifts.get(), to=site.lead, actor=site.lead, at=NOW)
    held = hold(site, times(site)[0], replaces=slot)
    book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    free = Reminder.objects.filter(news__title="You are not needed at the canner")
    assert [one.recipient for one in free] == [site.lead]


def test_others_do_not_see_what_somebody_cans_alone(site: Site) -> None:
    load = load_of(book(site, times(site)[0]))
    here = [site.kitchen.slug, load.harvest_day.uuid]
    addresses = (
        reverse("floor:run-sheet", args=[*here, load.canner.uuid]),
        reverse("floor:canners", args=here),
    )
    for address in addresses:
        for user, sees in (
            (site.member, True),
            (site.operator, True),
            (site.lead, True),
            (site.other, False),
        ):
            shown = signed_in(user).get(address).content.decode()
            assert (str(site.member) in shown or load.lot_code in shown) == sees, (address, user)
    feed_loads = loads_shown(site.kitchen, NOW)
    assert load not in feed_loads


def test_whoever_ran_it_signs_its_record(site: Site) -> None:
    train(site, site.member)
    load = load_of(book(site, times(site)[0]))
    run(load, site.member)
    out = load.phases.get(kind="unloading").ends_at
    jars_out(load=load, at=out, actor=site.member, now=out)
    address = reverse("records:load", args=[site.kitchen.slug, load.uuid])
    assert signed_in(site.other).get(address).status_code == 404
    assert signed_in(site.member).get(address).status_code == 200
    record = record_of(load)
    assert record.to_sign == (site.member,)
    with pytest.raises(OutOfOrder, match="not signed"):
        review_record(load=load, by=site.lead, digest=record.digest)
    sign_record(load=load, by=site.member, digest=record.digest)
    review_record(load=load, by=site.lead, digest=record_of(load).digest)


def test_who_watches_now_hears_that_the_canner_is_in_doubt(site: Site) -> None:
    slot = book(site, times(site)[0])
    hand_over(shift=load_of(slot).shifts.get(), to=site.lead, actor=site.lead, at=NOW)
    tell_doubt(slot, "Its gauge was not checked.", at=NOW)
    told = Reminder.objects.filter(news__title__startswith="Look again")
    assert {one.recipient for one in told} == {site.member, site.lead}
