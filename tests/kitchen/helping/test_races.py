"""A form that is sent twice at once leaves one row, on either database."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from kitchen.helping.actions import follow_address, set_wishes, take_file
from kitchen.helping.models import BusyCalendar, BusySpan, Station, StationWish, Wishes
from kitchen.members.models import Membership
from tests.factories.sites import make_site
from tests.kitchen.helping.calendars import calendar, event

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(deed: Callable[[], object], times: int = 4) -> None:
    """Do it so many times, each on a connection of its own, all beginning together."""
    gate = Barrier(times)

    def one(_: int) -> None:
        try:
            gate.wait()
            deed()
        finally:
            connection.close()

    with ThreadPoolExecutor(times) as pool:
        list(pool.map(one, range(times)))


@pytest.fixture
def membership() -> Membership:
    site = make_site()
    return site.member.memberships.select_related("kitchen", "user").get()


def test_wishes_sent_twice_are_kept_once(membership: Membership) -> None:
    at_once(
        lambda: set_wishes(
            membership=Membership.objects.select_related("kitchen", "user").get(pk=membership.pk),
            likes=frozenset({Station.FILL}),
            cannot=frozenset(),
            most_minutes=60,
            comes_with=None,
            learning=False,
            actor=membership.user,
        )
    )
    assert (Wishes.objects.count(), StationWish.objects.count()) == (1, 1)


def test_an_address_sent_twice_is_followed_once(membership: Membership) -> None:
    at_once(
        lambda: follow_address(membership=membership, address="https://dates.example/", actor=membership.user)
    )
    assert BusyCalendar.objects.count() == 1


def test_a_file_sent_twice_is_kept_once(membership: Membership) -> None:
    data = calendar(event("DTSTART:20260101T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY")).encode()
    at_once(lambda: take_file(membership=membership, name="a", data=data, actor=membership.user))
    assert (BusyCalendar.objects.count(), BusySpan.objects.count()) == (1, 120)
