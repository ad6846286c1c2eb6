"""Every page asks the database as often for many rows as for few, and stays light.

``KITCHEN_TEST_BATCHES=1000 python -m pytest tests/kitchen/bench/test_every_page.py -k queries`` takes a thousand for
many; a run of all tests takes fewer.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from uuid import uuid4

import pytest
from django.core.cache import caches
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from kitchen.bench.pages import NOT_PAGES, PAGES, Page, Subject, addresses_by_name, make_subject
from kitchen.bench.seasons import Amounts
from kitchen.bench.sites import make_site
from kitchen.harvest import keeping_pages
from kitchen.language.pieces import CACHE
from kitchen.members.models import Role
from tests.factories.kept_rows import kept_rows
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

FEW = Amounts(batches=6, lines_of_a_load=8, batches_of_a_day=3, on_shelf=100, of_one=100)
MANY = Amounts(
    batches=int(os.environ.get("KITCHEN_TEST_BATCHES", "36")),
    lines_of_a_load=12,
    batches_of_a_day=12,
    on_shelf=100,
    of_one=100,
)
PEOPLE = {"few": 6, "many": 24}


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[dict[str, Subject]]:
    """Two kitchens: one with few rows of everything, one with many."""
    with kept_rows(django_db_blocker):
        now = timezone.now()
        yield {
            name: make_subject(make_site(number, PEOPLE[name], now.date()), amounts, now)
            for number, (name, amounts) in enumerate((("few", FEW), ("many", MANY)))
        }


@pytest.fixture
def subjects(kept: dict[str, Subject], db: None) -> dict[str, Subject]:
    return kept


def test_no_page_is_forgotten(subjects: dict[str, Subject]) -> None:
    """What is in neither table must refuse to be read."""
    known = {page.name for page in PAGES} | set(NOT_PAGES)
    client = signed_in(subjects["few"].readers[Role.LEAD])
    names = {name for name, _ in addresses_by_name()}
    assert known <= names
    for name in names - known:
        answer = client.get(reverse(name, kwargs=made_up_values(name)))
        assert answer.status_code == 405, f"{name} can be read and is in neither table of kitchen.bench.pages"


def made_up_values(name: str) -> dict[str, object]:
    """Values of the right kinds for an address, of nothing that there is."""
    made_up = {"UUIDConverter": uuid4(), "IntConverter": 1}
    converters = next(one for known, one in addresses_by_name() if known == name).pattern.converters
    return {key: made_up.get(type(converter).__name__, "none") for key, converter in converters.items()}


def read(page: Page, role: Role, subject: Subject) -> list[str]:
    """The queries of a page."""
    client, address = signed_in(subject.readers[role]), page.address(subject.values)
    with CaptureQueriesContext(connection) as captured:
        answer = client.get(address)
    assert answer.status_code == 200, f"{address}: {answer.status_code}"
    return [one["sql"] for one in captured.captured_queries]


# How often a page asks is the same on every database.
@pytest.mark.sqlite
@pytest.mark.parametrize(
    ("page", "role"),
    [(page, role) for page in PAGES for role in page.readers],
    ids=lambda one: str(getattr(one, "name", one)) + getattr(one, "query", ""),
)
def test_many_rows_take_no_more_queries_than_few(
    subjects: dict[str, Subject], page: Page, role: Role, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping_pages, "AT_ONCE", 10_000)  # So that many shifts are shown like few.
    read(page, role, subjects["few"])  # What is kept for the whole program is kept from here on.
    for pieces_are_kept in (False, True):
        if not pieces_are_kept:
            caches[CACHE].clear()
        few, many = (read(page, role, subjects[name]) for name in ("few", "many"))
        assert len(many) == len(few), grown(few, many)


def grown(few: list[str], many: list[str]) -> str:
    """The questions that were asked more often, by the table they are about."""
    more = Counter(map(about, many)) - Counter(map(about, few))
    return f"{len(few)} became {len(many)}:\n" + "\n".join(f"{count} {what}" for what, count in more.items())


def about(sql: str) -> str:
    """What a question is about, without the columns it asks for."""
    return f"{sql.split()[0]} {sql.partition(' FROM ')[2][:200]}"
