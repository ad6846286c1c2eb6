"""The booking pages: presses, refusals in words, who sees what, and how many queries."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.actions import book_slot
from kitchen.batches.models import Slot, SlotState
from kitchen.booking.models import Hold
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def asked(site: Site, **changes: str) -> dict[str, str]:
    """Seven quarts of beans, from tomorrow on."""
    day = (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()
    given = {"what": "snap_beans:raw", "jars": "7", "jar": "quart", "day": day.isoformat(), "people": "1"}
    return given | changes


def page(site: Site) -> str:
    return reverse("booking:page", args=[site.kitchen.slug])


def keys(text: str) -> list[str]:
    """The times on a page."""
    return re.findall(r'name="time" value="([^"]+)"', text.replace("&#x2B;", "+").replace("&#43;", "+"))


def test_three_fields_and_two_presses(site: Site) -> None:
    client = signed_in(site.member)
    held = client.post(page(site), asked(site, first="1"))
    assert held.status_code == 302
    shown = client.get(held["Location"]).content.decode()
    assert "25 min" in shown
    assert "extension office" in shown  # The caution (rule S17).
    booked = client.post(held["Location"], {"watcher": str(site.operator.pk)})
    assert booked["Location"] == page(site)
    assert "Booked:" in client.get(page(site)).content.decode()
    assert Slot.objects.get().member == site.member


def test_a_time_is_chosen_from_the_list(site: Site) -> None:
    client = signed_in(site.member)
    listed = client.post(page(site), asked(site)).content.decode()
    chosen = keys(listed)[1]
    assert client.post(page(site), asked(site, time=chosen)).status_code == 302
    slower = signed_in(site.other).post(page(site), asked(site, time=chosen))
    assert slower.status_code == 422
    assert "is taken" in slower.content.decode()
    assert chosen not in keys(slower.content.decode())
    assert keys(slower.content.decode())


@pytest.mark.parametrize(
    "time",
    ["", "x", "a|b|c|d", "1|2", "{uuid}|now|now|now", "{uuid}|20990912T0900|20990912T1000|20990912T1100"],
)
def test_a_made_up_time_is_refused_in_words(site: Site, time: str) -> None:
    sent = asked(site, time=time.format(uuid=site.weighted.uuid))
    answer = signed_in(site.member).post(page(site), sent)
    assert answer.status_code == (200 if time == "" else 422)
    assert not Hold.objects.exists()


def test_what_is_not_published_is_refused_with_what_is(site: Site) -> None:
    answer = signed_in(site.member).post(page(site), asked(site, jar="half_gallon"))
    assert answer.status_code == 422
    assert "Published for this food" in answer.content.decode()


def test_others_do_not_see_a_hold_or_a_booking_but_a_lead_may_book_for_them(site: Site) -> None:
    client = signed_in(site.lead)
    held = client.post(page(site), asked(site, first="1", member=str(site.member.uuid)))
    assert Hold.objects.get().member == site.member
    assert signed_in(site.other).get(held["Location"]).status_code == 404
    assert signed_in(site.other).post(held["Location"]).status_code == 404
    client.post(held["Location"], {"watcher": str(site.operator.pk)})
    cancel = reverse("booking:cancel", args=[site.kitchen.slug, Slot.objects.get().uuid])
    assert signed_in(site.other).post(cancel).status_code == 404
    signed_in(site.member).post(cancel)
    assert Slot.objects.get().state == SlotState.CANCELLED
    # A member's choice of another member is not looked at.
    signed_in(site.member).post(page(site), asked(site, first="1", member=str(site.other.uuid)))
    assert not Hold.objects.filter(member=site.other).exists()


def queries(client: Client, address: str, sent: dict[str, str] | None = None) -> int:
    with CaptureQueriesContext(connection) as seen:
        client.get(address) if sent is None else client.post(address, sent)
    return len(seen)


def book_hours(site: Site, count: int, *, after: timedelta = timedelta()) -> None:
    """So many slots of one member, half an hour each, from ``after`` tomorrow's opening on."""
    tomorrow = (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()
    for number in range(count):
        starts_at: datetime = site.at(7, day=tomorrow) + after + timedelta(minutes=30 * number)
        book_slot(
            kitchen=site.kitchen,
            member=site.member,
            canner=site.boiling,
            starts_at=starts_at,
            ends_at=starts_at + timedelta(minutes=30),
            actor=site.member,
        )


def test_more_bookings_need_no_more_queries(site: Site) -> None:
    client = signed_in(site.member)
    client.post(page(site), asked(site))
    book_hours(site, 1)
    client.get(page(site))
    before = queries(client, page(site)), queries(client, page(site), asked(site))
    book_hours(site, 12, after=timedelta(hours=1))
    assert (queries(client, page(site)), queries(client, page(site), asked(site))) == before
