"""How a kitchen's own times compare with the usual ones: what its records have taught the planner.

A pace only changes how long something is expected to take. What is printed is never learned: venting, process
and rest minutes, and the least cool-down of rule S5, stand whatever a pace says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scheduler.errors import BadDay

# No record moves an expectation further than this: beyond it the burner, the canner's measures or the clock
# want looking at. Typing guards of our own, not figures of the trade.
LEAST_PACE = 0.4
MOST_PACE = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """A canner's planned minutes as a multiple of the physical estimate, 1.0 where nothing is learned.

    ``heat_up`` is from heat on to steady steam or a full boil, ``pressure_up`` from the weight on to
    pressure, ``cool_down`` from heat off to zero pressure, never forced. Refused: less than 0.4 or more than
    3.0.
    """

    heat_up: float = 1.0
    pressure_up: float = 1.0
    cool_down: float = 1.0

    def __post_init__(self) -> None:
        for name in ("heat_up", "pressure_up", "cool_down"):
            check_pace(getattr(self, name), f"The pace {name}")


def check_pace(value: float, what: str) -> None:
    """Refuse a multiple that nobody would believe, or that is no number."""
    if not LEAST_PACE <= value <= MOST_PACE:
        raise BadDay(
            f"{what} is {value}.",
            remedy=f"Give a multiple of the usual time from {LEAST_PACE} to {MOST_PACE}; 1.0 changes nothing.",
        )


def paced_minutes(usual_minutes: float, pace: float) -> int:
    """Whole minutes to plan with, rounded up. A hair of rounding must not turn 15.0000001 into 16."""
    return math.ceil(usual_minutes * pace - 1e-6)
