"""Booking canner time outside harvest days."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitchen.batches.actions import book_slot, cancel_slot
from kitchen.batches.models import Slot, SlotState
from kitchen.batches.queries import slots_of
from kitchen.batches.rules import can_be_cancelled
from kitchen.equipment.actions import record_gauge_check, take_out_of_service
from kitchen.equipment.models import Canner, CannerTime
from kitchen.errors import AlreadyDecided, BadTime, NotAllowed, OutOfService, SlotTaken
from kitchen.members.models import User
from tests.factories.sites import Site, declare, make_open_day, make_site

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 1, tzinfo=UTC)


@pytest.fixture
def site() -> Site:
    return make_site()


def book(
    site: Site, *, hour: int = 9, hours: float = 2, canner: Canner | None = None, member: User | None = None
) -> Slot:
    """Two hours at nine with the weighted canner, apart from what a case changes."""
    member = member or site.member
    return book_slot(
        kitchen=site.kitchen,
        member=member,
        canner=canner or site.weighted,
        starts_at=site.at(hour),
        ends_at=site.at(hour) + timedelta(hours=hours),
        actor=member,
        now=NOW,
    )


def test_a_slot_takes_its_canner(site: Site) -> None:
    slot = book(site)
    assert (slot.state, slot.sequence, slot.canner_time.occupies) == (SlotState.BOOKED, 0, True)
    assert list(slots_of(site.member, site.kitchen, NOW)) == [slot]
    with pytest.raises(SlotTaken, match="Sat 12 Sep 09:00 to 11:00"):
        book(site, hour=10, member=site.other)
    book(site, hour=11, member=site.other)


def test_a_cancelled_slot_frees_its_canner_and_stays_for_calendars(site: Site) -> None:
    slot = cancel_slot(slot=book(site), actor=site.member, now=NOW + timedelta(hours=1))
    assert (slot.state, slot.sequence, slot.cancelled_at) == (
        SlotState.CANCELLED,
        1,
        NOW + timedelta(hours=1),
    )
    assert not CannerTime.objects.filter(occupies=True).exists()
    book(site, member=site.other)
    with pytest.raises(AlreadyDecided):
        cancel_slot(slot=slot, actor=site.member, now=NOW)


def test_a_slot_that_has_begun_is_not_cancelled(site: Site) -> None:
    slot = book(site)
    assert can_be_cancelled(slot, now=site.at(8, 59))
    assert not can_be_cancelled(slot, now=site.at(9))
    with pytest.raises(BadTime):
        cancel_slot(slot=slot, actor=site.member, now=site.at(9))


@pytest.mark.parametrize(("hour", "hours"), [(6, 2), (20, 2), (8, 12.5)])
def test_a_time_outside_the_opening_or_too_long_is_refused(site: Site, hour: int, hours: float) -> None:
    with pytest.raises(BadTime):
        book(site, hour=hour, hours=hours)
    assert not CannerTime.objects.exists()


def test_a_time_past_or_backwards_is_refused(site: Site) -> None:
    for starts_at, ends_at, now in (
        (site.at(9), site.at(10), site.at(9, 1)),
        (site.at(10), site.at(9), NOW),
    ):
        with pytest.raises(BadTime):
            book_slot(
                kitchen=site.kitchen,
                member=site.member,
                canner=site.weighted,
                starts_at=starts_at,
                ends_at=ends_at,
                actor=site.member,
                now=now,
            )


def test_a_canner_out_of_service_is_refused(site: Site) -> None:
    with pytest.raises(OutOfService, match="no recorded check"):
        book(site, canner=site.dial)
    record_gauge_check(
        canner=site.dial,
        checked_on=date(2026, 8, 1),
        error_psi=Decimal(0),
        checked_by="Office",
        actor=site.lead,
        now=NOW,
    )
    book(site, canner=site.dial)
    take_out_of_service(canner=site.weighted, reason="Dented", actor=site.lead)
    with pytest.raises(OutOfService, match="Dented"):
        book(site)


def test_a_canner_of_another_kitchen_or_a_batch_of_another_member_is_refused(site: Site) -> None:
    with pytest.raises(NotAllowed):
        book(site, canner=make_site().weighted)
    batch = declare(site, make_open_day(site), member=site.other)
    with pytest.raises(NotAllowed):
        book_slot(
            kitchen=site.kitchen,
            member=site.member,
            canner=site.weighted,
            starts_at=site.at(9),
            ends_at=site.at(10),
            actor=site.member,
            batch=batch,
            now=NOW,
        )


def test_who_cancelled_and_when_are_kept_whole(site: Site) -> None:
    slot = book(site)
    for wrong in ({"state": SlotState.CANCELLED}, {"cancelled_at": NOW}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Slot.objects.filter(pk=slot.pk).update(**wrong)
