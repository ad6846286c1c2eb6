"""A planned day as plain text: canners, stations, people, what is left out, and how good the plan is proven to be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import fill

from scheduler.canner import Canner
from scheduler.chart_rows import PHASE_WORDS, TASK_WORDS, Row, RowKind, bar_words, chart_rows
from scheduler.cycle import PhaseKind
from scheduler.foods import find_food
from scheduler.measure import in_words
from scheduler.plan import Level, Load, Plan, Portion, TaskKind
from scheduler.problem import Batch, Day
from scheduler.wall_clock import WallClock, wall_clock

_WIDTH = 100


def day_text(day: Day, plan: Plan) -> str:
    """The whole plan as text, with times of the kitchen's clock and the caution of rule S17."""
    text = _DayText(day, plan)
    sections = (
        text.heading(),
        text.canners(),
        text.rows("STATIONS", RowKind.STATION),
        text.rows("PEOPLE", RowKind.PERSON),
        text.left_out(),
        text.levels(),
        text.warnings(),
        text.closing(),
    )
    return "\n\n".join("\n".join(lines) for lines in map(list, sections) if lines) + "\n"


def level_words(level: Level, clock: WallClock) -> str:
    """A level's name, value and bound: ``last jar out: 09:56; proven not before 09:28 (each batch alone), gap 5 %``."""
    return f"{level.name}: {reached_words(level, clock)}"


def reached_words(level: Level, clock: WallClock) -> str:
    """A level's value, then its bound."""
    clocked = level.name == "last jar out"
    value = clock.words(level.value) if clocked else _counted(level.value, level.unit.removesuffix("s"))
    if level.value <= level.bound:
        return f"{value}; proven best ({level.bound_name})"
    if level.bound <= 0:
        return f"{value}; no bound above 0 is proven ({level.bound_name}), gap {level.gap:.1%}"
    least = f"not before {clock.words(level.bound)}" if clocked else f"not below {level.bound}"
    return f"{value}; proven {least} ({level.bound_name}), gap {level.gap:.1%}"


class _DayText:
    """The sections of one plan's text."""

    def __init__(self, day: Day, plan: Plan) -> None:
        self._day = day
        self._plan = plan
        self._clock = wall_clock(day.date, day.time_zone)
        self._batches = {batch.id: batch for batch in day.batches}
        self._rows = chart_rows(day, plan)

    def heading(self) -> Iterator[str]:
        day, loads = self._day, self._plan.loads
        placed, asked = sum(load.jars for load in loads), sum(batch.jars for batch in day.batches)
        yield f"{day.kitchen}, {day.date:%a %-d %b %Y}"
        yield f"{day.altitude_ft:g} ft; times are those of {day.time_zone}"
        yield f"{placed} of {asked} jars in {_counted(len(loads), 'load')}"

    def canners(self) -> Iterator[str]:
        yield "CANNERS"
        for canner in self._day.canners:
            yield f"{canner.name} ({canner.kind.words})"
            loads = sorted(
                (load for load in self._plan.loads if load.canner_id == canner.id), key=lambda load: load.span
            )
            for load in loads:
                yield from self._load(canner, load)
            if not loads:
                yield "  no load"

    def rows(self, title: str, kind: RowKind) -> Iterator[str]:
        rows = [row for row in self._rows if row.kind is kind]
        if rows:
            yield title
        for row in rows:
            yield row.name
            yield from self._bars(row)

    def left_out(self) -> Iterator[str]:
        yield "LEFT OUT"
        for left in self._plan.left_out:
            batch = self._batches[left.batch_id]
            what = f"{left.jars} of {batch.jars} {batch.jar.words} jars of {find_food(batch.food_id).name}"
            yield fill(
                f"{what} ({batch.member}): {left.reason} {left.remedy}", _WIDTH, subsequent_indent="  "
            )
        if not self._plan.left_out:
            yield "nothing"

    def levels(self) -> Iterator[str]:
        made = self._plan.provenance
        yield "HOW GOOD"
        # Without a load, only how many jars are left out means anything.
        for level in self._plan.levels if self._plan.loads else self._plan.levels[:1]:
            yield level_words(level, self._clock)
        tries = _counted(made.iterations, "try", "tries")
        yield f"made by: {made.planner}, seed {made.seed}, {tries}; {made.stopped_because}"

    def warnings(self) -> Iterator[str]:
        if self._plan.warnings:
            yield "WARNINGS"
        for warning in self._plan.warnings:
            yield fill(warning, _WIDTH, subsequent_indent="  ")

    def closing(self) -> Iterator[str]:
        yield fill(self._plan.caution, _WIDTH)

    def _load(self, canner: Canner, load: Load) -> Iterator[str]:
        yield f"  load {load.number}, {self._span(load.phases[0].start, load.jars_out)}: {_process(load)}"
        for portion in load.portions:
            yield f"    {_portion(self._batches[portion.batch_id], portion)}"
            yield from (f"      {line}" for line in _run_sheet(portion))
        if load.water_jars:
            yield f"    {_counted(load.water_jars, 'jar')} of water to fill up (rule S13)"
        for task in self._plan.tasks:
            if task.load_id == load.id and task.kind is TaskKind.FILL:
                yield f"    {self._span(task.start, task.end)} {TASK_WORDS[task.kind]}"
        for phase in load.phases:
            yield f"    {self._span(phase.start, phase.end)} {PHASE_WORDS[phase.kind]}{_aim(phase.kind, canner, load)}"
        yield from (f"    {line}" for line in self._afterwards(load))

    def _afterwards(self, load: Load) -> Iterator[str]:
        if load.stand is not None:
            table = next(one.name for one in self._day.tables if one.id == load.stand.table_id)
            yield f"jars stand on {table} until {self._clock.words(load.stand.end)}"
        yield f"first call {self._clock.words(load.first_call)}, seal check {self._clock.words(load.seal_check)}"
        deadline = self._clock.words(load.reprocess_by)
        yield f"a jar that did not seal: a reprocess must start by {deadline}; after that refrigerate and eat it"

    def _bars(self, row: Row) -> Iterator[str]:
        for bar in row.bars:
            hands = f", {bar.hands} hands" if row.kind is RowKind.STATION and bar.hands > 1 else ""
            work = f" {bar_words(bar)}" if row.kind is RowKind.PERSON else ""
            yield f"  {self._span(bar.start, bar.end)}{work} {bar.text} ({bar.load_id}){hands}"
        if not row.bars:
            yield "  nothing planned"

    def _span(self, start: int, end: int) -> str:
        return self._clock.span_words(start, end)


def _process(load: Load) -> str:
    pressure = "" if load.pressure_psi is None else f"{load.pressure_psi:g} lb for "
    return f"{pressure}{load.process_minutes} min"


def _portion(batch: Batch, portion: Portion) -> str:
    food = find_food(batch.food_id).name
    return (
        f"{portion.jars} {batch.jar.words} {'jar' if portion.jars == 1 else 'jars'} of {food}, {batch.pack} pack "
        f"({batch.member}, batch {batch.id})"
    )


def _run_sheet(portion: Portion) -> Iterable[str]:
    yield f"headspace {in_words(portion.headspace_in)} in; row {portion.process_key}"
    if portion.sterilise_jars:
        yield "sterilise the jars first (rule S14)"
    if portion.acid:
        yield f"in each jar: {' or '.join(portion.acid)}"


def _aim(kind: PhaseKind, canner: Canner, load: Load) -> str:
    """What the gauge must show while a pressure load processes."""
    if kind is not PhaseKind.PROCESS or load.target_reading_psi is None:
        return ""
    return f" at a reading of {load.target_reading_psi:g} lb on the {canner.kind.words.split()[0].replace('-', ' ')}"


def _counted(count: int, one: str, several: str | None = None) -> str:
    return f"{count} {one if count == 1 else several or one + 's'}"
