"""Measured times as the planner's records, and what the planner uses of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from kitchen.batches.models import Batch
from kitchen.errors import BadSetting
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.learning.queries import times_before
from kitchen.members.models import Kitchen
from scheduler.foods import family_words, find_food
from scheduler.jars import JarSize, Pack
from scheduler.learning import (
    LEAST_KEPT_PERCENT,
    MOST_KEPT_PERCENT,
    PRIOR_RECORDS,
    Lesson,
    Measured,
    Record,
    believable,
    lesson,
)
from scheduler.pace import Pace, paced_minutes
from scheduler.records_file import records_csv
from scheduler.work import usual_fill_minutes, usual_work

__all__ = ["LEAST_KEPT_PERCENT", "MOST_KEPT_PERCENT", "PRIOR_RECORDS", "family_words", "paced_minutes"]

# A pace to the thousandth is finer than any clock in a kitchen.
_DIGITS = 3

Lessons = Mapping[tuple[TimedKind, int | None], Lesson]
"""By kind and by what it belongs to: a canner's key, a family's guide, None for the kitchen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a plan multiplies its usual minutes with; 1 where nothing is learned.

    ``canners`` by primary key, ``prep`` and ``kettle`` by the guide of the food.
    """

    canners: Mapping[int, Pace] = field(default_factory=dict)
    prep: Mapping[int, float] = field(default_factory=dict)
    kettle: Mapping[int, float] = field(default_factory=dict)
    fill: float = 1.0
    unloading: float = 1.0

    def prep_pace(self, food: str) -> float:
        """The pace of prep for a food."""
        return self.prep.get(find_food(food).guide, 1.0)

    def kettle_pace(self, food: str) -> float:
        """The pace of the kettle for a food."""
        return self.kettle.get(find_food(food).guide, 1.0)


def figures_for(kitchen: Kitchen, day: date) -> Figures:
    """What a plan of this day uses; nothing when the kitchen does not plan by its records."""
    if not kitchen.plan_by_records:
        return Figures()
    return figures_of(lessons_of(times_before(kitchen, day), kitchen.kept_percent))


def figures_of(lessons: Lessons) -> Figures:
    """The paces in lessons."""
    canners: defaultdict[int, dict[str, float]] = defaultdict(dict)
    work: dict[TimedKind, dict[int, float]] = {TimedKind.PREP: {}, TimedKind.KETTLE: {}}
    kitchen: dict[TimedKind, float] = {}
    for (kind, subject), found in lessons.items():
        pace = round(found.pace, _DIGITS)
        if subject is None:
            kitchen[kind] = pace
        elif kind in work:
            work[kind][subject] = pace
        else:
            canners[subject][kind.value] = pace
    return Figures(
        canners={key: Pace(**paces) for key, paces in canners.items()},
        prep=work[TimedKind.PREP],
        kettle=work[TimedKind.KETTLE],
        fill=kitchen.get(TimedKind.FILL, 1.0),
        unloading=kitchen.get(TimedKind.UNLOADING, 1.0),
    )


def lessons_of(times: Iterable[MeasuredTime], kept_percent: int) -> Lessons:
    """What measured times teach, each kind by what it belongs to."""
    groups: defaultdict[tuple[TimedKind, int | None], list[Record]] = defaultdict(list)
    for time in times:
        groups[TimedKind(time.kind), _subject(time)].append(_record(time, ""))
    return {key: lesson(records, kept_percent) for key, records in groups.items()}


def counts(time: MeasuredTime) -> bool:
    """True when a measured time is believable and no cool-down was forced."""
    return believable(_record(time, ""))


def usual_work_minutes(batch: Batch, kind: TimedKind, jars: int, hands: int) -> tuple[int, float]:
    """The guide of the batch's food, and the usual minutes of work on so many of its jars by so many hands."""
    work = usual_work(batch.food_id, Pack(batch.pack), JarSize(batch.jar))
    minutes = {
        TimedKind.PREP: work.prep_person_minutes_per_jar * jars / hands,
        TimedKind.KETTLE: float(work.kettle_minutes),
        TimedKind.FILL: usual_fill_minutes({JarSize(batch.jar): jars}, hands),
    }[kind]
    if not minutes:
        raise BadSetting("A raw pack has no kettle.", remedy="Time its prep or its filling.")
    return find_food(batch.food_id).guide, minutes


def csv_of(times: Iterable[MeasuredTime]) -> str:
    """Measured times as the table that ``python -m scheduler learn`` reads. Canners must be at hand."""
    return records_csv(_record(time, _subject_words(time)) for time in times)


def _record(time: MeasuredTime, subject: str) -> Record:
    return Record(
        subject=subject,
        kind=Measured(time.kind),
        usual_minutes=time.usual_minutes,
        recorded_minutes=time.recorded_minutes,
        least_minutes=time.least_minutes,
    )


def _subject(time: MeasuredTime) -> int | None:
    if time.kind in (TimedKind.FILL, TimedKind.UNLOADING):
        return None
    return time.family if time.canner_id is None else time.canner_id


def _subject_words(time: MeasuredTime) -> str:
    if time.kind in (TimedKind.FILL, TimedKind.UNLOADING):
        return "kitchen"
    if time.canner is not None:
        return f"{time.canner.code} {time.canner.name}"
    return "kitchen" if time.family is None else family_words(time.family)
