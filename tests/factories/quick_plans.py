"""Plans for tests that are about what the kitchen does with a plan."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from scheduler import planner

EFFORT_PER_SECOND = 10_000
ROTA_TRIES_PER_SECOND = 250


@contextmanager
def quick_plans() -> Iterator[None]:
    """Within, plans need to be sound, not good: a twentieth of the usual is tried.

    The same question still gets the same plan, and the judge looks at each. How good plans are is for the scheduler's
    own tests, which keep the full effort.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planner, "EFFORT_PER_SECOND", EFFORT_PER_SECOND)
        patch.setattr(planner, "ROTA_TRIES_PER_SECOND", ROTA_TRIES_PER_SECOND)
        yield
