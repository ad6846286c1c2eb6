"""Bookings follow what changes around them: holds that lapse, members who leave."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.models import BatchState, Slot, SlotState
from kitchen.booking.actions import ChosenTime, book_hold, hold_time
from kitchen.booking.bridge import Wanted, offers, why_not_on
from kitchen.booking.following import lapse_holds
from kitchen.booking.models import Hold, Waiting
from kitchen.booking.queries import looked_at
from kitchen.booking.waiting import wait_for
from kitchen.equipment.actions import record_gauge_check, return_to_service, take_out_of_service
from kitchen.members.actions import change_site, end_membership
from kitchen.members.models import User
from kitchen.reminders.models import Reminder
from tests.factories.sites import DAY, Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 10, 12, tzinfo=UTC)
LAPSED = NOW + timedelta(minutes=11)
BEANS = Wanted(food_id="snap_beans", pack="raw", jar="quart", jars=7)


@pytest.fixture
def site() -> Site:
    """Open so briefly that one time fits on a day."""
    site = make_site()
    site.kitchen.opening_hours.update(opens=time(7), closes=time(10, 30))
    return site


def hold(site: Site, member: User) -> Hold:
    offer = offers(site.kitchen, member, BEANS, DAY, NOW)[0]
    chosen = ChosenTime(
        canner=offer.canner, arrives_at=offer.arrives_at, starts_at=offer.starts_at, ends_at=offer.ends_at
    )
    return hold_time(kitchen=site.kitchen, member=member, wanted=BEANS, chosen=chosen, actor=member, now=NOW)


def book(site: Site, member: User) -> Slot:
    return book_hold(hold=hold(site, member), actor=member, watcher=site.operator, now=NOW)


def wait(site: Site, member: User) -> Waiting:
    return wait_for(kitchen=site.kitchen, member=member, wanted=BEANS, day=DAY, actor=member, now=NOW)


def told_free() -> list[User]:
    return [one.recipient for one in Reminder.objects.order_by("pk") if "come free" in one.news["title"]]


def test_a_lapsed_hold_tells_who_waits_and_may_still_be_confirmed(site: Site) -> None:
    held = hold(site, site.member)
    wait(site, site.other)
    assert lapse_holds(now=NOW + timedelta(minutes=9)) == 0
    assert told_free() == []
    assert lapse_holds(now=LAPSED) == 1
    assert told_free() == [site.other]
    assert lapse_holds(now=LAPSED) == 0
    slot = book_hold(hold=held, actor=site.member, watcher=site.operator, now=LAPSED)
    assert slot.canner_time.occupies


def test_what_was_confirmed_does_not_lapse(site: Site) -> None:
    slot = book(site, site.member)
    assert lapse_holds(now=LAPSED) == 0
    slot.canner_time.refresh_from_db()
    assert slot.canner_time.occupies


@pytest.mark.parametrize("by_lead", [True, False])
def test_whoever_leaves_gives_back_what_they_hold_and_booked(site: Site, *, by_lead: bool) -> None:
    booked = book(site, site.member)
    wait(site, site.other)
    membership = site.member.memberships.get()
    end_membership(membership=membership, actor=site.lead if by_lead else site.member, at=NOW)
    booked.refresh_from_db()
    assert booked.state == SlotState.CANCELLED
    assert booked.batch is not None
    assert booked.batch.state == BatchState.CANCELLED
    assert told_free() == [site.other]


def test_whoever_leaves_holds_nothing_and_waits_no_longer(site: Site) -> None:
    held = hold(site, site.member)
    waiting = wait(site, site.member)
    end_membership(membership=site.member.memberships.get(), actor=site.lead, at=NOW)
    held.refresh_from_db()
    waiting.refresh_from_db()
    assert held.let_go_at == NOW
    assert not held.canner_time.occupies
    assert waiting.ended_at == NOW
    assert told_free() == []


def test_a_time_that_has_begun_stays_when_its_member_leaves(site: Site) -> None:
    booked = book(site, site.member)
    begun = booked.canner_time.starts_at + timedelta(minutes=1)
    end_membership(membership=site.member.memberships.get(), actor=site.lead, at=begun)
    booked.refresh_from_db()
    assert booked.state == SlotState.BOOKED


def moved_to_come(slot: Slot) -> Slot:
    """The booking a day from now by the clock on the wall, which some changes are made by."""
    time, days = slot.canner_time, timezone.now() - slot.canner_time.starts_at + timedelta(days=1)
    time.starts_at, time.ends_at = time.starts_at + days, time.ends_at + days
    time.save()
    return slot


def told_doubt() -> list[User]:
    return [one.recipient for one in Reminder.objects.order_by("pk") if "Look again" in one.news["title"]]


def test_who_booked_a_canner_that_is_withdrawn_hears_of_it_and_sees_it(site: Site) -> None:
    slot = moved_to_come(book(site, site.member))
    canner = slot.canner_time.canner
    other = site.weighted if canner != site.weighted else site.dial
    take_out_of_service(canner=other, reason="Its gasket is torn.", actor=site.lead)
    assert told_doubt() == []
    take_out_of_service(canner=canner, reason="Its lid does not lock.", actor=site.lead)
    assert set(told_doubt()) == {site.member, site.operator, site.lead}
    (booked,) = looked_at([slot], site.kitchen)
    assert f"{canner} is out of service: Its lid does not lock. Choose another" in booked.doubt
    return_to_service(canner=canner, actor=site.lead)
    assert [one.doubt for one in looked_at([slot], site.kitchen)] == [""]
    assert len(told_doubt()) == 3


def test_a_booking_on_a_gauge_that_is_then_found_too_far_off_is_doubted(site: Site) -> None:
    """A dial gauge more than 2 lb off must be replaced (rule S8)."""

    def check(error: str, days_ago: int = 0) -> None:
        record_gauge_check(
            canner=site.dial,
            checked_on=NOW.date() - timedelta(days=days_ago),
            error_psi=Decimal(error),
            checked_by="Tool Library",
            actor=site.lead,
            now=NOW,
        )

    check("0.5", days_ago=30)
    site.weighted.delete()
    slot = book(site, site.member)
    assert slot.canner_time.canner == site.dial
    check("1.0")
    assert told_doubt() == []
    check("2.5")
    assert set(told_doubt()) == {site.member, site.operator, site.lead}


def test_another_altitude_puts_every_booking_to_come_in_doubt_and_none_that_is_over(site: Site) -> None:
    slot = book(site, site.member)
    change_site(kitchen=site.kitchen, altitude_ft=4000, time_zone=site.kitchen.time_zone, actor=site.lead)
    assert told_doubt() == []  # The slot's day is over by the clock on the wall.
    moved_to_come(slot)
    change_site(kitchen=site.kitchen, altitude_ft=4100, time_zone=site.kitchen.time_zone, actor=site.lead)
    assert set(told_doubt()) == {site.member, site.operator, site.lead}
    assert sum("4,100 ft" in str(one.news) for one in Reminder.objects.all()) == 3


def test_the_page_warns_of_a_booked_canner_that_may_not_be_used(site: Site) -> None:
    day = (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()
    page = reverse("booking:page", args=[site.kitchen.slug])
    sent = {"what": "snap_beans:raw", "jars": "7", "jar": "quart", "day": day.isoformat(), "people": "1"}
    held = signed_in(site.member).post(page, sent | {"first": "1"})
    signed_in(site.member).post(held["Location"], {"watcher": str(site.operator.pk)})
    canner = Slot.objects.get().canner_time.canner
    assert "do not heat this canner" not in signed_in(site.member).get(page).content.decode()
    take_out_of_service(canner=canner, reason="Its lid does not lock.", actor=site.lead)
    for reader in (site.member, site.lead):
        shown = signed_in(reader).get(page).content.decode()
        assert "do not heat this canner" in shown
        assert "Its lid does not lock." in shown


def test_why_nothing_fits_is_said_canner_by_canner(site: Site) -> None:
    book(site, site.other)
    told = {one.canner: one.reason for one in why_not_on(site.kitchen, site.member, BEANS, DAY, NOW)}
    assert site.weighted.name in told
    assert all(told.values())
    assert "A time fits." not in told.values()
    site.kitchen.opening_hours.all().delete()
    closed = why_not_on(site.kitchen, site.member, BEANS, DAY, NOW)
    assert [(one.canner, one.remedy) for one in closed] == [("", "Choose another day.")]


def test_what_comes_too_late_is_told_by_how_much(site: Site) -> None:
    site.kitchen.opening_hours.update(closes=time(8))
    reasons = [one.reason for one in why_not_on(site.kitchen, site.member, BEANS, DAY, NOW)]
    assert any("the kitchen closes before that" in reason for reason in reasons)
    food_without_process = replace(BEANS, jar="half_gallon")
    refused = why_not_on(site.kitchen, site.member, food_without_process, DAY, NOW)
    assert refused
    assert "A time fits." not in [one.reason for one in refused]


def test_a_lead_sees_and_cancels_what_others_booked(site: Site) -> None:
    day = (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()
    page = reverse("booking:page", args=[site.kitchen.slug])
    sent = {"what": "snap_beans:raw", "jars": "7", "jar": "quart", "day": day.isoformat(), "people": "1"}
    held = signed_in(site.member).post(page, sent | {"first": "1"})
    signed_in(site.member).post(held["Location"], {"watcher": str(site.operator.pk)})
    slot = Slot.objects.get()
    cancel = reverse("booking:cancel", args=[site.kitchen.slug, slot.uuid])
    shown = signed_in(site.lead).get(page).content.decode()
    assert "Booked by others" in shown
    assert cancel in shown
    assert str(site.member) in shown
    assert "Booked by others" not in signed_in(site.other).get(page).content.decode()
    signed_in(site.lead).post(cancel)
    slot.refresh_from_db()
    assert slot.state == SlotState.CANCELLED
