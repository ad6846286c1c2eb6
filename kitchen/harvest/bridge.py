"""A planned day as pages show it: a chart, the same as rows of words, and how good the plan is proven to be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pydantic import TypeAdapter, ValidationError

from kitchen.planning.bridge import read_day, read_plan
from kitchen.planning.models import HarvestDay
from scheduler.caution import CAUTION
from scheduler.chart import chart_svg
from scheduler.chart_rows import RowKind, bar_words, chart_rows
from scheduler.day_text import level_words
from scheduler.foods import find_food
from scheduler.plan import Level, Plan
from scheduler.problem import Day
from scheduler.wall_clock import wall_clock

__all__ = ["CAUTION", "NoRoom", "PlanPicture", "Row", "Section", "chart_of", "picture_of", "progress_words"]

_TITLES: Mapping[RowKind, str] = {
    RowKind.CANNER: "Canners",
    RowKind.STATION: "Stations",
    RowKind.PERSON: "People",
}
_LEVELS = TypeAdapter(tuple[Level, ...])


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A canner, a station or a person, and what happens there, each entry a time and words."""

    name: str
    entries: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The rows of one kind; ``column`` is what one of them is."""

    title: str
    column: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRoom:
    """Jars that found no place: whose, why, and what would help."""

    what: str
    reason: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPicture:
    """A plan in words. ``levels`` pairs the name of each level with its value, bound and gap."""

    loads: int
    placed: int
    asked: int
    sections: tuple[Section, ...]
    levels: tuple[tuple[str, str], ...]
    left_out: tuple[NoRoom, ...]
    warnings: tuple[str, ...]
    made_by: str


def chart_of(day: object, plan: object) -> str:
    """A kept question and its kept answer as an SVG picture."""
    return chart_svg(read_day(day), read_plan(plan))


def picture_of(dumped_day: object, dumped_plan: object) -> PlanPicture:
    """A kept question and its kept answer in words."""
    day, plan = read_day(dumped_day), read_plan(dumped_plan)
    return PlanPicture(
        loads=len(plan.loads),
        placed=sum(load.jars for load in plan.loads),
        asked=sum(batch.jars for batch in day.batches),
        sections=_sections(day, plan),
        levels=_levels(plan.levels if plan.loads else plan.levels[:1], day),
        left_out=_left_out(day, plan),
        warnings=plan.warnings,
        made_by=f"{plan.provenance.planner}, {plan.provenance.iterations:,} tries; {plan.provenance.stopped_because}",
    )


def progress_words(progress: Mapping[str, object], day: HarvestDay) -> tuple[tuple[str, str], ...]:
    """The newest report of a planner at work, level by level; nothing before the first."""
    try:
        levels = _LEVELS.validate_python(progress.get("levels", ()))
    except ValidationError:
        # An older release wrote the report; the next one comes within seconds.
        return ()
    clock = wall_clock(day.date, day.kitchen.time_zone)
    return tuple(_named(level_words(level, clock)) for level in levels)


def _sections(day: Day, plan: Plan) -> tuple[Section, ...]:
    clock = wall_clock(day.date, day.time_zone)
    rows: dict[RowKind, list[Row]] = {kind: [] for kind in RowKind}
    for row in chart_rows(day, plan):
        entries = tuple(
            (clock.span_words(bar.start, bar.end), f"{bar_words(bar)}, {bar.text}") for bar in row.bars
        )
        rows[row.kind].append(Row(name=row.name, entries=entries))
    return tuple(
        Section(title=_TITLES[kind], column=kind.value.capitalize(), rows=tuple(found))
        for kind, found in rows.items()
        if found
    )


def _levels(levels: Sequence[Level], day: Day) -> tuple[tuple[str, str], ...]:
    clock = wall_clock(day.date, day.time_zone)
    return tuple(_named(level_words(level, clock)) for level in levels)


def _named(words: str) -> tuple[str, str]:
    name, _, rest = words.partition(": ")
    return name, rest


def _left_out(day: Day, plan: Plan) -> tuple[NoRoom, ...]:
    batches = {batch.id: batch for batch in day.batches}
    found = []
    for none in plan.left_out:
        batch = batches[none.batch_id]
        food = find_food(batch.food_id).name
        what = f"{none.jars} of {batch.jars} {batch.jar.words} jars of {food}, {batch.member}"
        found.append(NoRoom(what=what, reason=none.reason, remedy=none.remedy))
    return tuple(found)
