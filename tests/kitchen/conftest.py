"""What the kitchen's tests share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.factories.quick_plans import quick_plans


@pytest.fixture(scope="session", autouse=True)
def _quick_plans() -> Iterator[None]:
    with quick_plans():
        yield
