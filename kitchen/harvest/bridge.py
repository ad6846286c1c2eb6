"""A planned day as pages show it: a chart, the same as rows of words, and how good the plan is proven to be."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from pydantic import TypeAdapter, ValidationError

from kitchen.errors import PlanOutOfDate
from kitchen.harvest.remedies import Answers, BatchAnswer, Choice, NewBatch, NewHours, Step
from kitchen.planning.bridge import Difference, difference_of, read_day, read_plan, read_what_if
from kitchen.planning.models import HarvestDay
from scheduler.caution import CAUTION
from scheduler.chart import chart_svg
from scheduler.chart_rows import RowKind, bar_words, chart_rows
from scheduler.day_text import reached_words
from scheduler.foods import find_food
from scheduler.pace import Pace
from scheduler.plan import Level, Plan
from scheduler.problem import Day
from scheduler.wall_clock import wall_clock
from scheduler.what_if.answer import EVERYTHING_TRIED, Answer, Remedy
from scheduler.what_if.change import Change
from scheduler.what_if.of_batch import ArriveEarlier, OtherJar, OtherPack, PickUpLater
from scheduler.what_if.of_kitchen import CloseLater, OneMorePerson
from scheduler.what_if.shared import batch_of
from scheduler.what_if.standing import standings
from scheduler.what_if_text import batch_words, in_vain_words, nothing_words, proof_words

__all__ = [
    "CAUTION",
    "Difference",
    "NoRoom",
    "PlanPicture",
    "Row",
    "Section",
    "answers_of",
    "chart_of",
    "difference_of",
    "picture_of",
    "progress_words",
    "sections_of",
    "steps_of",
]

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
    """A plan in words, without its tables. ``levels`` pairs the name of each level with its value, bound and gap."""

    loads: int
    placed: int
    asked: int
    levels: tuple[tuple[str, str], ...]
    left_out: tuple[NoRoom, ...]
    late: int
    warnings: tuple[str, ...]
    made_by: str
    learned: tuple[str, ...] = ()


def chart_of(day: object, plan: object, say: Callable[[str], str] = str) -> str:
    """A kept question and its kept answer as an SVG picture, in the words that ``say`` gives for the English ones."""
    return chart_svg(read_day(day), read_plan(plan), say)


def picture_of(dumped_day: object, dumped_plan: object) -> PlanPicture:
    """A kept question and its kept answer in words."""
    day, plan = read_day(dumped_day), read_plan(dumped_plan)
    return PlanPicture(
        loads=len(plan.loads),
        placed=sum(load.jars for load in plan.loads),
        asked=sum(batch.jars for batch in day.batches),
        levels=_levels(plan.levels if plan.loads else plan.levels[:1], day),
        left_out=_left_out(day, plan),
        late=sum(one.late > 0 for one in standings(day, plan).values()),
        warnings=plan.warnings,
        learned=tuple(canner.name for canner in day.canners if canner.pace != Pace()),
        made_by=f"{plan.provenance.planner}, {plan.provenance.iterations:,} tries; {plan.provenance.stopped_because}",
    )


def sections_of(dumped_day: object, dumped_plan: object) -> tuple[Section, ...]:
    """A kept plan as tables: who and what is where, row by row."""
    day, plan = read_day(dumped_day), read_plan(dumped_plan)
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


def answers_of(dumped_day: object, dumped_what_if: object) -> Answers:
    """Kept answers in words. ``PlanOutOfDate`` when they are of an older form."""
    day, found = read_day(dumped_day), read_what_if(dumped_what_if)
    return Answers(
        batches=tuple(
            BatchAnswer(
                what=batch_words(day, answer, named=False),
                choices=tuple(
                    _choice(day, answer, number, remedy) for number, remedy in enumerate(answer.remedies)
                ),
                nothing="" if answer.remedies else nothing_words(answer),
                in_vain=in_vain_words(answer),
            )
            for answer in found.answers
        ),
        ended_early=found.stopped_because != EVERYTHING_TRIED,
    )


def steps_of(dumped_day: object, dumped_what_if: object, name: str) -> tuple[Step, ...]:
    """The steps that make the remedy of this name.

    ``PlanOutOfDate`` when there is no such remedy, or one that no press can make.
    """
    day, found = read_day(dumped_day), read_what_if(dumped_what_if)
    for answer in found.answers:
        for number, remedy in enumerate(answer.remedies):
            if name == _name(answer, number) and (steps := _steps(day, remedy.changes)):
                return steps
    raise PlanOutOfDate("This change is not among the answers any more.", remedy="Ask again.")


def progress_words(progress: Mapping[str, object], day: HarvestDay) -> tuple[tuple[str, str], ...]:
    """The newest report of a planner at work, level by level; nothing before the first."""
    try:
        levels = _LEVELS.validate_python(progress.get("levels", ()))
    except ValidationError:
        # An older release wrote the report; the next one comes within seconds.
        return ()
    clock = wall_clock(day.date, day.kitchen.time_zone)
    return tuple((level.name, reached_words(level, clock)) for level in levels)


def _levels(levels: Sequence[Level], day: Day) -> tuple[tuple[str, str], ...]:
    clock = wall_clock(day.date, day.time_zone)
    return tuple((level.name, reached_words(level, clock)) for level in levels)


def _left_out(day: Day, plan: Plan) -> tuple[NoRoom, ...]:
    batches = {batch.id: batch for batch in day.batches}
    found = []
    for none in plan.left_out:
        batch = batches[none.batch_id]
        food = find_food(batch.food_id).name
        what = f"{none.jars} of {batch.jars} {batch.jar.words} jars of {food}, {batch.member}"
        found.append(NoRoom(what=what, reason=none.reason, remedy=none.remedy))
    return tuple(found)


def _name(answer: Answer, number: int) -> str:
    return f"{answer.batch_id}-{number}"


def _choice(day: Day, answer: Answer, number: int, remedy: Remedy) -> Choice:
    return Choice(
        name=_name(answer, number),
        words=remedy.words,
        proof=proof_words(day, remedy),
        can_be_made=bool(_steps(day, remedy.changes)),
        asks_for=_asks_for(remedy.changes),
    )


def _steps(day: Day, changes: Sequence[Change]) -> tuple[Step, ...]:
    """The changes as steps; nothing when one of them is not the program's to make, such as finding a person."""
    steps: list[Step] = []
    for change in changes:
        step = _step(day, change)
        if step is None:
            return ()
        steps.append(step)
        day = change.apply(day)
    return tuple(steps)


def _step(day: Day, change: Change) -> Step | None:
    clock = wall_clock(day.date, day.time_zone)
    match change:
        case CloseLater():
            return NewHours(closes_at=clock.moment(day.horizon + change.minutes))
        case ArriveEarlier():
            return NewBatch(batch_id=int(change.batch_id), arrives_at=clock.moment(change.arrival))
        case PickUpLater():
            return NewBatch(batch_id=int(change.batch_id), picks_up_at=clock.moment(change.pickup))
        case OtherPack():
            return NewBatch(batch_id=int(change.batch_id), pack=change.pack.value)
        case OtherJar():
            jars = batch_of(change.apply(day), change.batch_id).jars
            return NewBatch(batch_id=int(change.batch_id), jar=change.jar.value, jars=jars)
        case _:
            return None


def _asks_for(changes: Sequence[Change]) -> str:
    for change in changes:
        match change:
            case OneMorePerson():
                return "trained" if change.trained else "helper"
            case CloseLater() | ArriveEarlier() | PickUpLater() | OtherPack() | OtherJar():
                continue
            case _:
                return "day" if "day" in change.kind else "equipment"
    return "" if changes else "again"
