"""Waiting for a full day: told once, when a time that fits comes free."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.actions import book_slot
from kitchen.batches.models import Slot
from kitchen.booking.actions import cancel_booking
from kitchen.booking.bridge import Wanted
from kitchen.booking.models import Waiting
from kitchen.booking.waiting import stop_waiting, wait_for
from kitchen.errors import BadTime
from kitchen.members.models import User
from kitchen.reminders.models import Reminder
from tests.factories.sites import DAY, Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 10, 12, tzinfo=UTC)
BEANS = Wanted(food_id="snap_beans", pack="raw", jar="quart", jars=7)


@pytest.fixture
def site() -> Site:
    """Open for ten hours, so that one slot fills the pressure canner's day."""
    site = make_site()
    site.kitchen.opening_hours.update(closes=time(17))
    return site


def fill(site: Site, day: date = DAY, now: datetime = NOW) -> Slot:
    """The one pressure canner that may be used, taken from opening to closing."""
    return book_slot(
        kitchen=site.kitchen,
        member=site.other,
        canner=site.weighted,
        starts_at=site.at(7, day=day),
        ends_at=site.at(17, day=day),
        actor=site.other,
        now=now,
    )


def wait(site: Site, member: User | None = None) -> Waiting:
    member = member or site.member
    return wait_for(kitchen=site.kitchen, member=member, wanted=BEANS, day=DAY, actor=member, now=NOW)


def test_whoever_waits_is_told_once(site: Site) -> None:
    slot = fill(site)
    assert wait(site) == wait(site)  # Pressing twice waits once.
    wait(site, site.operator)
    cancel_booking(slot=slot, actor=site.other, now=NOW)
    told = Reminder.objects.order_by("recipient_id")
    assert [one.recipient for one in told] == [site.operator, site.member]
    assert told[0].news["title"] == "Canner time has come free on Saturday 12 September"
    cancel_booking(slot=fill(site), actor=site.other, now=NOW)
    assert Reminder.objects.count() == 2


def test_nobody_waits_for_a_day_on_which_a_time_fits_or_that_is_over(site: Site) -> None:
    with pytest.raises(BadTime, match="A time fits"):
        wait(site)
    with pytest.raises(BadTime, match="over"):
        wait_for(
            kitchen=site.kitchen,
            member=site.member,
            wanted=BEANS,
            day=date(2026, 9, 9),
            actor=site.member,
            now=NOW,
        )


def test_whoever_stopped_waiting_or_left_is_not_told(site: Site) -> None:
    slot = fill(site)
    stop_waiting(waiting=wait(site), actor=site.member, now=NOW)
    wait(site, site.operator)
    site.operator.memberships.update(left_at=NOW)
    cancel_booking(slot=slot, actor=site.other, now=NOW)
    assert not Reminder.objects.exists()


def test_what_still_does_not_fit_is_not_told(site: Site) -> None:
    slot = fill(site)
    wait(site)
    site.weighted.out_of_service_reason = "The gasket leaks"
    site.weighted.save()
    cancel_booking(slot=slot, actor=site.other, now=NOW)
    assert not Reminder.objects.exists()


def test_waiting_from_the_page(site: Site) -> None:
    day = (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()
    fill(site, day, timezone.now())
    client, page = signed_in(site.member), reverse("booking:page", args=[site.kitchen.slug])
    sent = {"what": "snap_beans:raw", "jars": "7", "jar": "quart", "day": day.isoformat(), "people": "1"}
    assert f"Tell me when a time comes free on {day:%a %-d %b}" in client.post(page, sent).content.decode()
    client.post(page, sent | {"wait": "1"})
    waiting = Waiting.objects.get()
    stop = reverse("booking:stop", args=[site.kitchen.slug, waiting.uuid])
    assert stop in client.get(page).content.decode()
    assert signed_in(site.other).post(stop).status_code == 404
    client.post(stop)
    assert stop not in client.get(page).content.decode()
