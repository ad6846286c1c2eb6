"""What the API's tests share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.core.cache import cache


@pytest.fixture(autouse=True)
def _uncounted() -> Iterator[None]:
    """Nobody has asked before: ids come back after a test, and with them the counts of others."""
    cache.clear()
    yield
    cache.clear()
