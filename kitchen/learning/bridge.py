"""Measured times as the planner's records, and what the planner uses of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache
from types import MappingProxyType
from uuid import UUID

from kitchen.batches.models import Batch
from kitchen.equipment.bridge import as_burner, as_canner
from kitchen.equipment.queries import canners_at_hand
from kitchen.errors import BadSetting
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.learning.queries import PlainTime, keys_before, plain_times
from kitchen.members.models import Kitchen
from kitchen.members.rules import POLICY_LIMITS
from scheduler.caution import CAUTION
from scheduler.expected import Expected, compared_jar, expected_phases
from scheduler.foods import family_words, find_food, foods
from scheduler.jars import JarSize, Pack
from scheduler.learning import (
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

__all__ = ["CAUTION", "PRIOR_RECORDS", "paced_minutes"]

# A pace to the thousandth is finer than any clock in a kitchen.
_DIGITS = 3
# For how much prep and filling the page says minutes.
_COMPARED_QUARTS = 20

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing that is learned: what is expected of it, and what was recorded.

    ``noted`` counts the records, ``set_aside`` those without weight: unbelievable, forced, or far off.
    ``spread_percent`` is None while there are too few to tell.
    """

    what: str
    expected: Expected
    noted: int
    set_aside: int
    median: float | None
    spread_percent: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The lines of a canner or of the stations; ``note`` says for what they are reckoned."""

    title: str
    note: str
    lines: list[Line]


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """What measured times teach, and how many there are of each."""

    lessons: Lessons
    noted: Mapping[tuple[TimedKind, int | None], int]

    def line(self, subject: int | None, expected: Expected, of: str = "") -> Line:
        """What is expected of something beside what was recorded of it; ``of`` tells it apart in words."""
        kind = TimedKind(expected.kind.value)
        taught = self.lessons.get((kind, subject)) or lesson(())
        noted = self.noted.get((kind, subject), 0)
        return Line(
            what=f"{kind.label}, {of}" if of else kind.label,
            expected=expected,
            noted=noted,
            set_aside=noted - taught.records + taught.set_aside,
            median=taught.median,
            spread_percent=None if taught.own_spread is None else round(100 * taught.own_spread),
        )


def figures_for(kitchen: Kitchen, day: date) -> Figures:
    """What a plan of this day uses; nothing when the kitchen does not plan by its records."""
    if not kitchen.plan_by_records:
        return Figures()
    return figures_of(taught_by(keys_before(kitchen, day), kitchen).lessons)


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


def taught_by(keys: tuple[int, ...], kitchen: Kitchen) -> Taught:
    """What the kitchen's measured times with these keys teach, each kind by what it belongs to.

    Usual for unloading is the kitchen's setting as it is now: whoever changes it does not change how long it took.
    """
    return _taught_by(kitchen.uuid, keys, kitchen.unloading_minutes, kitchen.kept_percent)


# Every page and plan that goes by thousands of times goes by the same ones until another is noted, and the same keys
# stand for the same times. A few kitchens' at once are kept.
@lru_cache(maxsize=16)
def _taught_by(kitchen: UUID, keys: tuple[int, ...], unloading_minutes: int, kept_percent: int) -> Taught:
    groups: defaultdict[tuple[TimedKind, int | None], list[Record]] = defaultdict(list)
    for time in plain_times(keys):
        one = _record(time, "")
        if time.kind == TimedKind.UNLOADING:
            one = replace(one, usual_minutes=float(unloading_minutes))
        groups[TimedKind(time.kind), _subject(time)].append(one)
    return Taught(
        lessons=MappingProxyType({key: lesson(records, kept_percent) for key, records in groups.items()}),
        noted=MappingProxyType({key: len(records) for key, records in groups.items()}),
    )


def unloading_minutes(kitchen: Kitchen, figures: Figures) -> int:
    """The kitchen's own setting at the pace of its records, within what a kitchen may set."""
    most = POLICY_LIMITS["unloading_minutes"][1]
    return min(most, paced_minutes(kitchen.unloading_minutes, figures.unloading))


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


def _record(time: MeasuredTime | PlainTime, subject: str) -> Record:
    return Record(
        subject=subject,
        kind=Measured(time.kind),
        usual_minutes=time.usual_minutes,
        recorded_minutes=time.recorded_minutes,
        least_minutes=time.least_minutes,
    )


def _subject(time: PlainTime) -> int | None:
    if time.kind in (TimedKind.FILL, TimedKind.UNLOADING):
        return None
    return time.family if time.canner_id is None else time.canner_id


def _subject_words(time: MeasuredTime) -> str:
    if time.kind in (TimedKind.FILL, TimedKind.UNLOADING):
        return "kitchen"
    if time.canner is not None:
        return f"{time.canner.code} {time.canner.name}"
    return "kitchen" if time.family is None else family_words(time.family)


def sections_for(kitchen: Kitchen, keys: tuple[int, ...], on: date) -> list[Section]:
    """Each canner and the stations: the estimate, what was recorded, and what the planner now uses. ``keys`` are those
    of the measured times.
    """
    found = taught_by(keys, kitchen)
    figures = figures_of(found.lessons) if kitchen.plan_by_records else Figures()
    sections = []
    for row in canners_at_hand(kitchen):
        canner = replace(as_canner(row, on=on, service=()), pace=figures.canners.get(row.pk, Pace()))
        phases = expected_phases(canner, as_burner(row.burner), kitchen.cool_down_minutes)
        note = f"a full canner of {compared_jar(canner).words} jars, raw pack"
        lines = [found.line(row.pk, phase) for phase in phases]
        sections.append(Section(title=row.name, note=note, lines=lines))
    note = f"{_COMPARED_QUARTS} quarts by one person, one kettle, one load's unloading"
    return [*sections, Section(title="Stations", note=note, lines=_station_lines(kitchen, found, figures))]


def _station_lines(kitchen: Kitchen, found: Taught, figures: Figures) -> list[Line]:
    fill = usual_fill_minutes({JarSize.QUART: _COMPARED_QUARTS}, 1)
    unloading = Expected(
        kind=Measured.UNLOADING,
        usual_minutes=kitchen.unloading_minutes,
        planned_minutes=unloading_minutes(kitchen, figures),
    )
    lines = [found.line(None, _paced(Measured.FILL, fill, figures.fill)), found.line(None, unloading)]
    for kind, subject in sorted(found.lessons, key=str):
        if subject is None or kind not in (TimedKind.PREP, TimedKind.KETTLE):
            continue
        # Prep and kettle are usual for a whole guide, so any food of it speaks for all.
        work = usual_work(next(food.id for food in foods() if food.guide == subject), Pack.HOT, JarSize.QUART)
        if kind is TimedKind.PREP:
            usual = work.prep_person_minutes_per_jar * _COMPARED_QUARTS
            expected = _paced(Measured.PREP, usual, figures.prep.get(subject, 1.0))
        else:
            expected = _paced(Measured.KETTLE, work.kettle_minutes, figures.kettle.get(subject, 1.0))
        lines.append(found.line(subject, expected, of=family_words(subject)))
    return lines


def _paced(kind: Measured, usual_minutes: float, pace: float) -> Expected:
    return Expected(
        kind=kind,
        usual_minutes=paced_minutes(usual_minutes, 1.0),
        planned_minutes=paced_minutes(usual_minutes, pace),
        remark="never quicker than usual: the recipe prints a boil" if kind is Measured.KETTLE else "",
    )
