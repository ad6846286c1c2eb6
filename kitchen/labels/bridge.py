"""What labels take from the planner: the caution, whole and short, and whether a food is low in acid."""

from __future__ import annotations

from scheduler.caution import CAUTION, SHORT_CAUTION
from scheduler.errors import SchedulerError
from scheduler.process import is_low_acid

__all__ = ["CAUTION", "SHORT_CAUTION", "low_acid"]


def low_acid(food: str) -> bool:
    """True when only pressure processes are published for the food (rule S7).

    A food that the tables no longer know counts as low in acid, for which the stricter advice holds.
    """
    try:
        return is_low_acid(food)
    except SchedulerError:
        return True
