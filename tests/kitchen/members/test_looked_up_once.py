"""A page looks its reader's membership up once; whatever writes looks each up as it stands."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitchen.members.models import Membership, Role, User
from kitchen.members.pages import kitchen_named
from kitchen.members.rules import Deed, can
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def may_after_losing_the_role(site: Site, method: str) -> bool:
    request = RequestFactory().generic(method, "/")
    request.user = User.objects.get(pk=site.lead.pk)
    here = kitchen_named(request, site.kitchen.slug)
    assert can(request.user, here, Deed.PLAN_DAY)
    Membership.objects.filter(user=site.lead).update(role=Role.MEMBER)
    return can(request.user, here, Deed.PLAN_DAY)


def test_a_page_asks_for_it_once(site: Site) -> None:
    client = signed_in(site.lead)
    with CaptureQueriesContext(connection) as asked:
        assert client.get(reverse("members:policy", args=[site.kitchen.slug])).status_code == 200
    assert sum('FROM "members_membership"' in one["sql"] for one in asked.captured_queries) == 1


@pytest.mark.parametrize(("method", "still"), [("GET", True), ("HEAD", True), ("POST", False)])
def test_what_writes_sees_a_role_that_was_taken_away_meanwhile(site: Site, method: str, still: bool) -> None:
    assert may_after_losing_the_role(site, method) is still


def test_the_next_page_sees_it_too(site: Site) -> None:
    client, address = signed_in(site.lead), reverse("members:policy", args=[site.kitchen.slug])
    assert client.get(address).status_code == 200
    Membership.objects.filter(user=site.lead).update(role=Role.MEMBER)
    assert client.get(address).status_code in (403, 404)
