"""Booking canner time: what it takes, when it fits, held, booked, moved and given back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest
from django.db.models import QuerySet

from kitchen.audit.models import AuditEvent
from kitchen.batches.models import Batch, BatchState, Slot, SlotState
from kitchen.booking.actions import ChosenTime, book_hold, cancel_booking, hold_time, let_go
from kitchen.booking.bridge import Offer, Wanted, not_offered, offer_at, offers
from kitchen.booking.models import Hold
from kitchen.equipment.models import CannerTime
from kitchen.errors import AlreadyDecided, BadIntake, BadTime, NotAllowed, SlotTaken
from kitchen.members.actions import change_policy
from kitchen.members.models import User
from kitchen.planning.bridge import day_of
from kitchen.reminders.models import Kind, Reminder
from tests.factories.sites import DAY, Site, make_open_day, make_site

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 10, 12, tzinfo=UTC)
BEANS = Wanted(food_id="snap_beans", pack="raw", jar="quart", jars=7)


@pytest.fixture
def site() -> Site:
    return make_site()


def times(site: Site, wanted: Wanted = BEANS, *, member: User | None = None, most: int = 8) -> list[Offer]:
    return offers(site.kitchen, member or site.member, wanted, DAY, NOW, most=most)


def hold(
    site: Site, offer: Offer, *, member: User | None = None, now: datetime = NOW, **more: object
) -> Hold:
    member = member or site.member
    wanted = more.pop("wanted", BEANS)
    return hold_time(
        kitchen=site.kitchen,
        member=member,
        wanted=wanted,  # type: ignore[arg-type]
        chosen=ChosenTime(
            canner=offer.canner, arrives_at=offer.arrives_at, starts_at=offer.starts_at, ends_at=offer.ends_at
        ),
        actor=member,
        now=now,
        **more,  # type: ignore[arg-type]
    )


def book(site: Site, offer: Offer, *, member: User | None = None) -> Slot:
    held = hold(site, offer, member=member)
    return book_hold(hold=held, actor=held.member, watcher=site.operator, now=NOW)


def told() -> QuerySet[Reminder]:
    """What was said, but for what is said the evening before."""
    return Reminder.objects.exclude(kind=Kind.SHIFT)


def test_a_time_that_is_held_can_still_be_booked_when_the_hold_is_nearly_over(site: Site) -> None:
    """In the middle of the opening, when the first time could begin at once."""
    now = site.at(9, day=DAY) + timedelta(seconds=30)
    first = offers(site.kitchen, site.member, BEANS, DAY, now)[0]
    lasts = timedelta(minutes=site.kitchen.hold_minutes)
    assert timedelta() <= first.comes_at - (now + lasts) < timedelta(minutes=5)
    held = hold(site, first, now=now)
    last_moment = now + lasts - timedelta(seconds=1)
    slot = book_hold(hold=held, actor=site.member, watcher=site.operator, now=last_moment)
    assert slot.canner_time.starts_at >= first.comes_at


def test_what_is_offered(site: Site) -> None:
    first = times(site)[0]
    assert (
        first.canner == site.weighted
    )  # The dial gauge was never checked (rule S8); beans need pressure (S7).
    assert first.comes_at == site.at(7)
    (load,) = first.loads
    assert load.jars == 7
    # USDA AIB 539 (2015), Guide 4: snap beans, raw pack, quarts, weighted gauge above 1,000 ft: 25 min at 15 lb.
    assert "25 min" in load.process
    assert "15" in load.process
    phases = {kind: (end - start) // timedelta(minutes=1) for kind, start, end in load.phases}
    assert (phases["vent"], phases["process"], phases["rest"]) == (10, 25, 10)
    assert list(phases) == [
        "loading",
        "heat-up",
        "vent",
        "pressure-up",
        "process",
        "cool-down",
        "rest",
        "unloading",
    ]
    assert first.starts_at < load.phases[0][1]
    assert first.ends_at >= load.phases[-1][2]
    assert not_offered(site.kitchen, DAY) == [
        why for why in not_offered(site.kitchen, DAY) if "W1" not in why
    ]
    assert any("dial" in why.lower() for why in not_offered(site.kitchen, DAY))


def test_the_last_admission_is_closing_less_the_whole_chain(site: Site) -> None:
    """Published cannery practice: the last admission is the closing time less the remaining chain, to the minute."""
    two = replace(BEANS, people=2)
    first = times(site, two)[0]
    latest = site.at(21) - (first.ends_at - first.comes_at)

    def at(arrives_at: datetime) -> Offer | None:
        return offer_at(site.kitchen, site.member, two, site.weighted, arrives_at, NOW)

    last = at(latest)
    assert last is not None
    assert last.ends_at == site.at(21)
    assert at(latest + timedelta(minutes=1)) is None
    site.kitchen.opening_hours.update(closes=time(20, 59))
    assert at(latest) is None


def test_times_are_spread_over_the_day(site: Site) -> None:
    hours = [one.comes_at.astimezone(site.kitchen.zone).hour for one in times(site, most=99)[:5]]
    assert hours == sorted(hours)
    assert hours[0] == 7
    assert hours[-1] >= 15


def test_cleaning_after_meat_lies_inside(site: Site) -> None:
    meat = Wanted(food_id="ground_meat", pack="hot", jar="pint", jars=8)
    first = times(site, meat)[0]
    assert first.ends_at - first.loads[-1].phases[-1][2] >= timedelta(minutes=site.kitchen.cleaning_minutes)


def test_harvest_days_and_taken_times_are_left_out(site: Site) -> None:
    make_open_day(site)
    assert all(one.comes_at >= site.at(20) for one in times(site))
    slot = book(site, times(site)[0])
    again = times(site, member=site.other)
    assert all(
        one.ends_at <= slot.canner_time.starts_at or one.starts_at >= slot.canner_time.ends_at
        for one in again
        if one.canner == site.weighted
    )


def test_a_hold_keeps_others_out_until_it_lapses(site: Site) -> None:
    offer = times(site)[0]
    held = hold(site, offer)
    assert held.canner_time.held_until == NOW + timedelta(minutes=10)
    with pytest.raises(SlotTaken, match="is taken: Sat 12 Sep"):
        hold(site, offer, member=site.other)
    later = NOW + timedelta(minutes=10)
    theirs = hold(site, offer, member=site.other, now=later)
    with pytest.raises(SlotTaken, match="is taken: Sat 12 Sep"):
        book_hold(hold=held, actor=site.member, watcher=site.operator, now=later)
    assert book_hold(hold=theirs, actor=site.other, watcher=site.lead, now=later).state == SlotState.BOOKED


def test_a_lapsed_hold_is_booked_if_nobody_was_quicker(site: Site) -> None:
    held = hold(site, times(site)[0])
    slot = book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW + timedelta(minutes=30))
    assert slot.canner_time.held_until is None
    assert CannerTime.objects.filter(occupies=True).count() == 1


def test_pressing_twice_holds_and_books_once(site: Site) -> None:
    offer = times(site)[0]
    held, again = hold(site, offer), hold(site, offer)
    assert held == again
    slots = {book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW) for _ in range(2)}
    assert len(slots) == 1
    assert Slot.objects.count() == Batch.objects.count() == 1
    actions = AuditEvent.objects.filter(kitchen=site.kitchen).values_list("action", flat=True)
    assert sorted(actions) == [
        "batch_planned",
        "book_slot",
        "declare_batch",
        "hold_time",
        "plan_reminders",
        "tell",
        "write_booked_loads",
    ]


def test_choosing_another_time_lets_the_first_go(site: Site) -> None:
    first, second = times(site)[:2]
    held = hold(site, first)
    hold(site, second)
    held.refresh_from_db()
    assert held.let_go_at == NOW
    with pytest.raises(AlreadyDecided):
        book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    assert CannerTime.objects.filter(occupies=True).count() == 1


def test_letting_go_frees_the_canner(site: Site) -> None:
    held = hold(site, times(site)[0])
    for _ in range(2):
        let_go(hold=held, actor=site.member, now=NOW)
    hold(site, times(site)[0], member=site.other)
    assert AuditEvent.objects.filter(action="let_go").count() == 1


def test_a_member_without_training_names_who_watches(site: Site) -> None:
    held = hold(site, times(site)[0])
    for nobody in (None, site.other):
        with pytest.raises(NotAllowed, match="rule S9"):
            book_hold(hold=held, actor=site.member, watcher=nobody, now=NOW)
    book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    assert [one.recipient for one in told()] == [site.operator]


def test_a_trained_member_watches_alone(site: Site) -> None:
    held = hold(site, times(site, member=site.operator)[0], member=site.operator)
    book_hold(hold=held, actor=site.operator, now=NOW)
    assert not told().exists()


def test_what_was_shown_must_still_be_so(site: Site) -> None:
    offer = times(site)[0]
    held = hold(site, offer)
    site.kitchen.cool_down_minutes += 30
    site.kitchen.save()
    with pytest.raises(BadTime, match="no longer fits"):
        book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    with pytest.raises(BadTime, match="no longer fits"):
        hold(site, offer, member=site.member, now=NOW + timedelta(hours=1))


def test_a_time_that_was_not_offered_is_refused(site: Site) -> None:
    offer = times(site)[0]
    with pytest.raises(BadTime, match="no longer fits"):
        hold(site, replace(offer, ends_at=offer.ends_at - timedelta(minutes=20)))
    assert not CannerTime.objects.filter(occupies=True).exists()


def test_cancelling_frees_canner_and_batch(site: Site) -> None:
    slot = cancel_booking(slot=book(site, times(site)[0]), actor=site.member, now=NOW)
    assert slot.state == SlotState.CANCELLED
    assert slot.batch is not None
    slot.batch.refresh_from_db()
    assert slot.batch.state == BatchState.CANCELLED
    assert not CannerTime.objects.filter(occupies=True).exists()
    assert told().filter(recipient=site.operator).count() == 2  # Counted on, and no longer.
    with pytest.raises(AlreadyDecided):
        cancel_booking(slot=slot, actor=site.member, now=NOW)


def test_moving_a_booking_keeps_its_name_for_calendars(site: Site) -> None:
    slot = book(site, times(site)[0])
    to = times(site)[0]
    held = hold(site, to, replaces=slot)
    moved = book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    assert (moved.pk, moved.sequence, moved.canner_time.starts_at) == (slot.pk, 1, to.starts_at)
    assert [time.starts_at for time in CannerTime.objects.filter(occupies=True)] == [to.starts_at]
    assert [batch.state for batch in Batch.objects.order_by("pk")] == ["cancelled", "planned"]
    with pytest.raises(NotAllowed):
        hold(site, times(site)[0], member=site.other, replaces=slot)


def test_limits_on_group_and_age(site: Site) -> None:
    offer = times(site)[0]
    with pytest.raises(BadIntake, match="1 to 4"):
        hold(site, offer, wanted=replace(BEANS, people=5))
    site.member.memberships.update(under_16=True)
    with pytest.raises(NotAllowed, match="under 16"):
        hold(site, offer)
    assert times(site) == []  # Somebody older must lift the jars.
    two = replace(BEANS, people=2)
    change_policy(kitchen=site.kitchen, changes={"under_16_may_book": True}, actor=site.lead)
    hold(site, times(site, two)[0], wanted=two)


def test_jars_of_a_booking_take_room_on_the_cooling_table(site: Site) -> None:
    """Rule S12: the table holds one load, and its jars stand until the next day."""
    slot = book(site, times(site)[0])
    load = slot.loads.get()
    assert load.cooling_table is not None
    assert load.stands_until is not None
    assert load.stands_until - load.phases.get(kind="unloading").ends_at >= timedelta(hours=12)
    load.cooling_table.area_sq_in = load.stand_area_sq_in * 1.5
    load.cooling_table.save()
    after = load.stands_until
    theirs = times(site, member=site.other)
    assert theirs
    assert all(one.loads[0].phases[-1][2] >= after for one in theirs)
    day = make_open_day(site)
    assert [use.area_sq_in for table in day_of(day).tables for use in table.taken] == [load.stand_area_sq_in]
    cancel_booking(slot=slot, actor=site.member, now=NOW)
    assert [use for table in day_of(day).tables for use in table.taken] == []


def test_a_moved_booking_s_jars_stand_elsewhere(site: Site) -> None:
    slot = book(site, times(site)[0])
    before = slot.loads.get().stands_until
    assert before is not None
    held = hold(site, times(site)[0], replaces=slot)
    book_hold(hold=held, actor=site.member, watcher=site.operator, now=NOW)
    (after,) = slot.loads.exclude(state="cancelled").values_list("stands_until", flat=True)
    assert after is not None
    assert after > before
