"""What a member's own page offers: calendar addresses, and their shifts with the canner."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from kitchen.calendars.models import Feed
from tests.factories.sites import Site, declare, make_open_day, make_site, publish
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def shown_address(client: Client, site: Site, form: str = "member") -> str:
    """The path of the calendar address that making one shows; ``form`` ends the address that makes it."""
    page = client.post(f"/kitchens/{site.kitchen.slug}/calendar/{form}/").content.decode()
    found = re.search(r'value="[^"]*(/feeds/[^"]+)"', page)
    assert found is not None, page
    return found[1]


def test_a_new_calendar_address_ends_the_one_before(site: Site) -> None:
    member = signed_in(site.member)
    first = shown_address(member, site)
    assert Client().get(first).status_code == 200
    second = shown_address(member, site)
    assert Client().get(first).status_code == 404
    assert Client().get(second).status_code == 200


def test_an_address_is_shown_once_and_ended_by_hand(site: Site) -> None:
    member = signed_in(site.member)
    address = shown_address(member, site)
    home = reverse("home:kitchen", args=[site.kitchen.slug])
    assert address not in member.get(home).content.decode()
    answer = member.post(
        reverse("home:end-feed", args=[site.kitchen.slug, Feed.objects.get().pk]), follow=True
    )
    assert "That calendar address no longer works." in answer.content.decode()
    assert Client().get(address).status_code == 404


def test_the_page_of_calendars_makes_an_address_of_each_and_says_which_stand(site: Site) -> None:
    member, page = signed_in(site.member), reverse("home:calendars", args=[site.kitchen.slug])
    forms = re.findall(r'action="/kitchens/[^/]+/calendar/([^"]+)/"', member.get(page).content.decode())
    assert forms == [
        *("member", "days", "rota"),
        *(f"canners/{canner.uuid}" for canner in site.kitchen.canners.order_by("pk")),
    ]
    told = [Client().get(shown_address(member, site, form)).content.decode() for form in forms]
    names = [line.split(":", 1)[1] for text in told for line in text.splitlines() if "CALNAME" in line]
    assert len(set(names)) == len(forms)
    assert member.get(page).content.decode().count("not read yet") == 0
    assert member.get(page).content.decode().count("last read") == len(forms)
    assert member.get(page.replace("calendars", "calendar/nonsense")).status_code == 405
    assert member.post(page.replace("calendars", "calendar/nonsense")).status_code == 404


def test_a_shift_names_its_canner_and_load(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    publish(site, day)
    later = day.date.replace(year=2100)
    day.shifts.update(starts_at=site.at(9, day=later), ends_at=site.at(10, day=later))
    worker = day.shifts.select_related("user", "load__canner").get(station="canner")
    assert worker.load is not None
    assert worker.user is not None
    page = signed_in(worker.user).get(reverse("home:kitchen", args=[site.kitchen.slug])).content.decode()
    assert f"{worker.load.canner.name}, load {worker.load.number}" in page
