"""Two members who choose the same time at once, and one who presses twice at once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from threading import Barrier

import pytest
from django.db import connection

from kitchen.batches.models import Slot
from kitchen.booking.actions import ChosenTime, book_hold, hold_time
from kitchen.booking.bridge import Wanted, offers
from kitchen.booking.models import Hold
from kitchen.equipment.models import CannerTime
from kitchen.errors import SlotTaken
from kitchen.members.models import User
from tests.factories.sites import DAY, Site, make_site

pytestmark = pytest.mark.django_db(transaction=True)

NOW = datetime(2026, 9, 10, 12, tzinfo=UTC)
BEANS = Wanted(food_id="snap_beans", pack="raw", jar="quart", jars=7)


def at_once(*steps: Callable[[], str]) -> list[str]:
    """Every step in a thread of its own, begun together; what came of each."""
    start = Barrier(len(steps))

    def run(step: Callable[[], str]) -> str:
        start.wait(timeout=30)
        try:
            return step()
        except SlotTaken:
            return "taken"
        finally:
            connection.close()

    with ThreadPoolExecutor(len(steps)) as pool:
        return sorted(pool.map(run, steps))


def holding(site: Site, member: User) -> Callable[[], str]:
    """A press on the first time of the day."""
    offer = offers(site.kitchen, member, BEANS, DAY, NOW)[0]

    def press() -> str:
        hold = hold_time(
            kitchen=site.kitchen,
            member=member,
            wanted=BEANS,
            chosen=ChosenTime(
                canner=offer.canner,
                arrives_at=offer.arrives_at,
                starts_at=offer.starts_at,
                ends_at=offer.ends_at,
            ),
            actor=member,
            now=NOW,
        )
        return f"held {hold.pk}"

    return press


def test_two_members_choose_one_time() -> None:
    site = make_site()
    came = at_once(holding(site, site.member), holding(site, site.other))
    assert came[1:] == ["taken"]
    assert Hold.objects.count() == CannerTime.objects.filter(occupies=True).count() == 1


def test_a_member_presses_twice_at_once() -> None:
    site = make_site()
    press = holding(site, site.member)
    came = at_once(press, press, press)
    assert len(set(came)) == 1
    assert Hold.objects.count() == CannerTime.objects.filter(occupies=True).count() == 1


def test_a_hold_is_booked_once_and_not_freed_meanwhile() -> None:
    """The member confirms at the minute at which it lapses, while somebody else wants the time."""
    site = make_site()
    holding(site, site.member)()
    hold = Hold.objects.get()
    lapses = hold.canner_time.held_until
    assert lapses is not None

    def confirm() -> str:
        book_hold(hold=hold, actor=site.member, watcher=site.operator, now=lapses)
        return "booked"

    def want() -> str:
        time = hold.canner_time
        hold_time(
            kitchen=site.kitchen,
            member=site.other,
            wanted=BEANS,
            chosen=ChosenTime(
                canner=time.canner, arrives_at=hold.arrives_at, starts_at=time.starts_at, ends_at=time.ends_at
            ),
            actor=site.other,
            now=lapses,
        )
        return "held"

    came = at_once(confirm, confirm, want)
    assert came in (["booked", "booked", "taken"], ["held", "taken", "taken"])
    assert CannerTime.objects.filter(occupies=True).count() == 1
    assert Slot.objects.count() == came.count("booked") // 2
