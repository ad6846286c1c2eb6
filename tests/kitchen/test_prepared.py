"""Prepared queries: the rows that the query itself gives, read anew each time, with nothing changed but the values."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Collection
from datetime import datetime, timedelta
from threading import Thread

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import F, QuerySet
from django.http import Http404
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from kitchen.members.models import Kitchen, Membership, Role, User
from kitchen.prepared import Prepared, prepared
from tests.factories.loads import make_member
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@prepared
def _of(kitchen: Kitchen, since: datetime) -> QuerySet[Membership]:
    rows = Membership.objects.filter(kitchen=kitchen, joined_at__gte=since)
    return rows.select_related("user").annotate(whose=F("user__email")).order_by("pk")


@prepared
def _names(users: Collection[int], *, newest_first: bool) -> QuerySet[User, str]:
    rows = User.objects.filter(pk__in=users).order_by("-pk" if newest_first else "pk")
    return rows.values_list("email", flat=True)


@prepared
def _with_role(kitchen: Kitchen, role: Role) -> QuerySet[Membership]:
    return Membership.objects.filter(kitchen=kitchen, role=role).order_by("pk")[:1]


def test_rows_are_those_of_the_query_with_all_that_is_read_beside_them(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    kitchen = make_site().kitchen
    member, since = make_member(kitchen), timezone.now() - timedelta(days=1)
    with django_assert_num_queries(1):
        found = _of(kitchen, since)
        told = [(one.user.email, vars(one)["whose"]) for one in found]
    assert found == list(Membership.objects.filter(kitchen=kitchen).order_by("pk"))
    assert (member.email, member.email) in told
    assert _of(kitchen, timezone.now() + timedelta(days=1)) == []


def test_nothing_is_kept_of_an_answer() -> None:
    kitchen = make_site().kitchen
    since = timezone.now() - timedelta(days=1)
    before = len(_of(kitchen, since))
    make_member(kitchen)
    assert len(_of(kitchen, since)) == before + 1


@pytest.mark.parametrize("many", range(6))
def test_several_values_are_asked_for_at_once(many: int) -> None:
    kitchen = make_site().kitchen
    people = [make_member(kitchen) for _ in range(many)]
    make_member(kitchen)
    told = [one.email for one in people]
    pks = [one.pk for one in people]
    assert _names(pks, newest_first=False) == told
    assert _names([*pks, *pks], newest_first=True) == told[::-1]


def test_the_first_row_or_none() -> None:
    kitchen = make_site().kitchen
    found = _with_role.first(kitchen, Role.LEAD)
    assert found is not None
    assert found.role == Role.LEAD
    Membership.objects.filter(kitchen=kitchen, role=Role.LEAD).update(role=Role.MEMBER)
    assert _with_role.first(kitchen, Role.LEAD) is None


def test_sql_is_written_once_for_all_values(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Prepared, "compares", False)
    written = []

    @prepared
    def named(email: str) -> QuerySet[User]:
        written.append(email)
        return User.objects.filter(email=email)

    member = make_member(make_site().kitchen)
    with CaptureQueriesContext(connection) as asked:
        assert (named(member.email), named("nobody@kitchen.example")) == ([member], [])
    assert (len(written), len(asked)) == (1, 2)


def test_what_is_not_there_is_not_found() -> None:
    @prepared
    def named(slug: str) -> QuerySet[Kitchen]:
        return Kitchen.objects.filter(slug=slug)

    kitchen = make_site().kitchen
    assert named.or_404(kitchen.slug) == named.first(kitchen.slug) == kitchen
    assert named.first("elsewhere") is None
    with pytest.raises(Http404):
        named.or_404("elsewhere")


def test_a_question_for_nothing_is_refused() -> None:
    with pytest.raises(ImproperlyConfigured, match="_with_role is asked for nothing"):
        _with_role(make_site().kitchen, None)  # type: ignore[arg-type]  # That is the mistake.


def test_a_query_that_reads_the_clock_is_found_out() -> None:
    @prepared
    def lately(kitchen: Kitchen) -> QuerySet[Membership]:
        return Membership.objects.filter(kitchen=kitchen, joined_at__lte=timezone.now())

    with pytest.raises(ImproperlyConfigured, match="lately reads more than its arguments"):
        lately(make_site().kitchen)


def test_a_query_that_reckons_with_a_value_is_found_out() -> None:
    @prepared
    def day_before(since: datetime) -> QuerySet[Membership]:
        return Membership.objects.filter(joined_at__lte=since - timedelta(days=1))

    with pytest.raises(ImproperlyConfigured, match="day_before reads more than its arguments, or does more"):
        day_before(timezone.now())


@pytest.mark.django_db(transaction=True)
def test_each_thread_asks_over_a_connection_of_its_own_and_leaves_it_to_nobody() -> None:
    @prepared
    def all_of(kitchen: Kitchen) -> QuerySet[Membership]:
        return Membership.objects.filter(kitchen=kitchen)

    kitchen, found = make_site().kitchen, list[int]()
    held = weakref.WeakSet[BaseDatabaseWrapper]()

    def ask() -> None:
        own = connections[DEFAULT_DB_ALIAS]
        held.add(own)
        found.append(len(all_of(kitchen)))
        own.close()

    for _ in range(3):
        thread = Thread(target=ask)
        thread.start()
        thread.join()
    assert found == [len(all_of(kitchen))] * 3
    gc.collect()
    assert not held
