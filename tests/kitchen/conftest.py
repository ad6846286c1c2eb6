"""What the kitchen's tests share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.core.cache import caches
from django.core.cache.backends.locmem import LocMemCache

from kitchen.prepared import Prepared
from tests.factories.quick_plans import quick_plans


@pytest.fixture(scope="session", autouse=True)
def _compared() -> None:
    """Each prepared query is also written anew: one that reads the clock fails whatever asks it."""
    Prepared.compares = True


# By module, since a worker goes on with tests of the scheduler, which keep the full effort.
@pytest.fixture(scope="module", autouse=True)
def _quick_plans() -> Iterator[None]:
    with quick_plans():
        yield


@pytest.fixture(autouse=True)
def _nothing_counted() -> None:
    """Attempts and requests are counted by address, which all tests share, and pieces of pages are kept. Caches in
    Redis are left alone: they may hold more than that.
    """
    for cache in caches.all(initialized_only=True):
        if isinstance(cache, LocMemCache):
            cache.clear()
