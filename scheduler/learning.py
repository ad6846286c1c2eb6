"""What a kitchen's recorded times teach: a figure that few records move little and twenty decide.

Each record is a ratio, recorded minutes over the usual minutes of the same load, and ratios are compared by
their logarithms, so that twice as long and half as long weigh the same. The centre is a biweight M-estimate
about a median (Mosteller and Tukey, Data Analysis and Regression, 1977): a record far from the others has no
weight at all. The physical estimate takes part as if it had been recorded itself a few times, which counts the
less the more is known. The choice of these figures is common practice, no source; they were held against
synthetic records with known truth (``tests/scheduler/test_learning.py``).

Only expectations are learned. What is printed, and the least cool-down of rule S5, is held by ``heat``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist, median

from scheduler.errors import BadDay
from scheduler.pace import LEAST_PACE, MOST_PACE, paced_minutes

# The physical estimate counts as so many records while there are none, and as less with each one recorded.
PRIOR_RECORDS = 4
# Times of the same load scatter by about an eighth until the kitchen's own scatter is known; the guess stands
# alone for so many records, and counts as much as so many afterwards.
_USUAL_SPREAD = 0.12
_SPREAD_RECORDS = 4
# Tukey's usual tuning: beyond so many spreads from the centre a record is set aside.
_SET_ASIDE_SPREADS = 4.685
# Median absolute deviation to standard deviation of a normal distribution.
_MAD_TO_SPREAD = 1.4826
_MOST_ROUNDS = 200
_SETTLED = 1e-9

# Whoever plans with less than the middle plans to be late; above 95 % twenty records say nothing.
LEAST_KEPT_PERCENT = 50
MOST_KEPT_PERCENT = 95
USUAL_KEPT_PERCENT = 80
"""The planner's time is one that so many of a hundred loads keep."""

# A recorded time outside these multiples of the usual one is a slip of the clock or of the pen, not a time.
LEAST_RATIO = 0.2
MOST_RATIO = 5.0


class Measured(StrEnum):
    """What can be learned. The value is the spelling used in files and tables."""

    HEAT_UP = "heat_up"
    PRESSURE_UP = "pressure_up"
    COOL_DOWN = "cool_down"
    UNLOADING = "unloading"
    PREP = "prep"
    KETTLE = "kettle"
    FILL = "fill"

    @property
    def words(self) -> str:
        """As a person would say it."""
        return _WORDS[self]


_WORDS: dict[Measured, str] = {
    Measured.HEAT_UP: "heat-up",
    Measured.PRESSURE_UP: "coming to pressure",
    Measured.COOL_DOWN: "cool-down",
    Measured.UNLOADING: "unloading",
    Measured.PREP: "prep",
    Measured.KETTLE: "kettle",
    Measured.FILL: "filling",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One recorded time beside what was usual for the same load: minutes before anything was learned.

    ``subject`` is what the time belongs to: a canner, a family of foods, the kitchen. ``least_minutes`` is the
    safety minimum of a cool-down, 0 where there is none.
    """

    subject: str
    kind: Measured
    usual_minutes: float
    recorded_minutes: float
    least_minutes: int = 0

    @property
    def ratio(self) -> float:
        """Recorded over usual."""
        return self.recorded_minutes / self.usual_minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """What records of one subject and kind teach.

    ``records`` counts those that were believable, ``set_aside`` those of them without weight. ``median`` is
    theirs alone, None without any; ``centre`` is the estimate, shrunk towards the physical one; ``spread`` is
    the scatter of a load's time, as a share. ``pace`` is what the planner multiplies the usual time with, at
    the share of loads that the kitchen wants to keep its time.
    """

    records: int
    set_aside: int
    median: float | None
    centre: float
    spread: float
    pace: float

    @property
    def own_spread(self) -> float | None:
        """The spread when the records had a say in it; None while it is only assumed."""
        return self.spread if self.records > _SPREAD_RECORDS else None


def believable(record: Record) -> bool:
    """True when a record counts at all.

    A cool-down below the least of rule S5 was forced, and nothing is learned from it.
    """
    return LEAST_RATIO <= record.ratio <= MOST_RATIO and record.recorded_minutes >= record.least_minutes


def lesson(records: Iterable[Record], kept_percent: int = USUAL_KEPT_PERCENT) -> Lesson:
    """What these records of one subject and one kind teach. Refused: a share outside 50 to 95 %.

    Without records the pace is 1. A kettle is never learned to be quicker than usual: part of its time is a
    boil that the recipe prints.
    """
    check_kept_percent(kept_percent)
    counted = [record for record in records if believable(record)]
    found = lesson_of_ratios([record.ratio for record in counted], kept_percent)
    if not any(record.kind is Measured.KETTLE for record in counted):
        return found
    return Lesson(
        records=found.records,
        set_aside=found.set_aside,
        median=found.median,
        centre=found.centre,
        spread=found.spread,
        pace=max(1.0, found.pace),
    )


def lesson_of_ratios(ratios: Sequence[float], kept_percent: int = USUAL_KEPT_PERCENT) -> Lesson:
    """What ratios of recorded to usual time teach, all of them above 0."""
    logs = sorted(math.log(ratio) for ratio in ratios)
    if not logs:
        return Lesson(
            records=0, set_aside=0, median=None, centre=1.0, spread=math.expm1(_USUAL_SPREAD), pace=1.0
        )
    prior = prior_weight(len(logs))
    spread = _spread(logs)
    centre = _centre(logs, prior, spread)
    # What is not known yet adds no margin either: the physical estimate is on the slow side by itself.
    margin = NormalDist().inv_cdf(kept_percent / 100) * spread * len(logs) / (len(logs) + prior)
    return Lesson(
        records=len(logs),
        set_aside=sum(_weight(value, centre, spread) == 0 for value in logs),
        median=math.exp(median(logs)),
        centre=math.exp(centre),
        spread=math.expm1(spread),
        pace=min(max(math.exp(centre + margin), LEAST_PACE), MOST_PACE),
    )


def prior_weight(records: int) -> float:
    """As how many records the physical estimate counts beside so many: 4 without any, 2 beside 4, 2/3 beside 20."""
    return PRIOR_RECORDS**2 / (PRIOR_RECORDS + records)


def planned_minutes(usual_minutes: float, pace: float, least_minutes: int = 0) -> int:
    """Whole minutes to plan with, never below the safety minimum."""
    return max(1, least_minutes, paced_minutes(usual_minutes, pace))


def check_kept_percent(kept_percent: int) -> None:
    """Refuse a share of loads outside 50 to 95 %."""
    if not LEAST_KEPT_PERCENT <= kept_percent <= MOST_KEPT_PERCENT:
        raise BadDay(
            f"A time cannot be planned that {kept_percent} % of loads keep.",
            remedy=f"Choose from {LEAST_KEPT_PERCENT} to {MOST_KEPT_PERCENT} %.",
        )


def _spread(logs: Sequence[float]) -> float:
    middle = median(logs)
    own = _MAD_TO_SPREAD * median([abs(value - middle) for value in logs])
    freedom = max(0, len(logs) - _SPREAD_RECORDS)
    pooled = (_SPREAD_RECORDS * _USUAL_SPREAD**2 + freedom * own**2) / (_SPREAD_RECORDS + freedom)
    return math.sqrt(pooled)


def _centre(logs: Sequence[float], prior: float, spread: float) -> float:
    """The biweight centre of the records and of the physical estimate, which stands at 0."""
    points = sorted([(0.0, prior), *((value, 1.0) for value in logs)])
    centre = _weighted_median(points)
    for _ in range(_MOST_ROUNDS):
        weights = [share * _weight(value, centre, spread) for value, share in points]
        whole = sum(weights)
        if whole == 0:
            break
        before, centre = centre, sum(w * value for w, (value, _) in zip(weights, points, strict=True)) / whole
        if abs(centre - before) < _SETTLED:
            break
    return centre


def _weight(value: float, centre: float, spread: float) -> float:
    away = (value - centre) / (_SET_ASIDE_SPREADS * spread)
    return (1 - away * away) ** 2 if abs(away) < 1 else 0.0


def _weighted_median(points: Sequence[tuple[float, float]]) -> float:
    """The value at which half of the weight is passed; between two values where it is passed exactly."""
    half, passed = sum(weight for _, weight in points) / 2, 0.0
    for place, (value, weight) in enumerate(points):
        passed += weight
        if math.isclose(passed, half, rel_tol=1e-12):
            return (value + points[place + 1][0]) / 2
        if passed > half:
            return value
    return points[-1][0]
