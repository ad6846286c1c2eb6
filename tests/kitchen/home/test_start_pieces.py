"""What the start page shows of the kitchen is kept while nothing in it changes, and never longer."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from kitchen.members.models import Kitchen
from kitchen.planning.models import DayKind, DayState, HarvestDay
from tests.factories.canner_runs import make_beans_out
from tests.factories.sites import Site, make_open_day, make_site
from tests.factories.walks import sections_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def shown(site: Site, name: str) -> str:
    address = reverse("home:kitchen", args=[Kitchen.objects.get(pk=site.kitchen.pk).slug])
    return sections_of(site.lead, address)[name]


def test_each_thing_that_changes_of_a_harvest_day_shows_at_once(site: Site) -> None:
    day = HarvestDay.objects.filter(pk=make_open_day(site).pk)
    opens_at = day.get().opens_at
    before = shown(site, "days")
    for column, value in (
        ("opens_at", opens_at + timedelta(minutes=30)),
        ("closes_at", opens_at + timedelta(hours=3)),
        ("date", day.get().date + timedelta(days=1)),
        ("state", DayState.CLOSED),
    ):
        assert day.update(**{column: value}) == 1
        after = shown(site, "days")
        assert after != before, column
        before = after
    assert "No harvest day yet" not in before
    day.update(kind=DayKind.BOOKED)
    assert "No harvest day yet" in shown(site, "days")


def test_days_with_booked_time_likewise(site: Site) -> None:
    day = HarvestDay.objects.filter(pk=make_beans_out(site).day.pk)
    later = day.get().date + timedelta(days=4000)  # A day to come, whenever this is read.
    before = shown(site, "running")
    for column, value in (
        ("date", later),
        ("kind", DayKind.BOOKED),
        ("opens_at", day.get().opens_at - timedelta(minutes=30)),
        ("closes_at", day.get().closes_at + timedelta(minutes=30)),
        ("date", later + timedelta(days=1)),
    ):
        assert day.update(**{column: value}) == 1
        after = shown(site, "running")
        assert (after != before) == (value != later), column
        before = after


def test_a_kitchen_under_another_name_has_other_addresses(site: Site) -> None:
    before = {name: shown(site, name) for name in ("days", "book", "running")}
    Kitchen.objects.filter(pk=site.kitchen.pk).update(slug="elsewhere")
    for name, part in before.items():
        after = shown(site, name)
        assert "/kitchens/elsewhere/" in after
        assert after != part


def test_a_lead_an_operator_and_a_member_are_shown_what_is_theirs(site: Site) -> None:
    address = reverse("home:kitchen", args=[site.kitchen.slug])
    ways = {
        reader.pk: (
            (parts := sections_of(reader, address))["days"].count("Records to review"),
            parts.get("running", "").count("Equipment"),
            parts.get("running", "").count("What the kitchen decides"),
        )
        for reader in (site.lead, site.operator, site.member)
    }
    assert list(ways.values()) == [(1, 1, 1), (0, 1, 0), (0, 0, 0)]


def test_a_kept_form_is_pressed_with_ones_own_secret(site: Site) -> None:
    page = reverse("booking:page", args=[site.kitchen.slug])
    for reader in (site.member, site.other):
        client = Client(enforce_csrf_checks=True)
        client.force_login(reader)
        part = client.get(reverse("home:kitchen", args=[site.kitchen.slug])).content.decode()
        form = part[part.index(f'action="{page}"') :]
        secret = form.split('csrfmiddlewaretoken" value="')[1].split('"')[0]
        given = {"what": "", "jars": "", "jar": "pint", "csrfmiddlewaretoken": secret}
        assert client.post(page, given).status_code == 422  # It is read, and says what is missing.
        assert client.post(page, {**given, "csrfmiddlewaretoken": "x" * 64}).status_code == 403
