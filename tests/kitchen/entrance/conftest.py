"""What tests of signing in begin with: a member with a password, and no attempt counted."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.core.cache import cache

from kitchen.members.models import User
from tests.factories.sites import Site, make_site

PASSWORD = "three jars of plums"  # noqa: S105  # Of a test.


@pytest.fixture(autouse=True)
def _empty_cache() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def site() -> Site:
    site = make_site()
    site.member.set_password(PASSWORD)
    site.member.save()
    return site


@pytest.fixture
def member(site: Site) -> User:
    return site.member
