"""A planned day as rows of bars, the content of the chart and of the table that says the same."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from scheduler.cycle import PhaseKind
from scheduler.plan import Load, Plan, Task, TaskKind
from scheduler.problem import Day


class RowKind(StrEnum):
    """What a row is about."""

    CANNER = "canner"
    STATION = "station"
    PERSON = "person"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """Something that lasts from ``start`` to ``end``, in minutes since the day's origin.

    ``what`` is the phase or the kind of work. ``lane`` counts from 0 where bars of a row overlap.
    """

    what: PhaseKind | TaskKind
    start: int
    end: int
    load_id: str
    text: str
    hands: int = 1
    lane: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A canner, a station or a person with all its bars, in the order of their start."""

    kind: RowKind
    id: str
    name: str
    bars: tuple[Bar, ...]

    @property
    def lanes(self) -> int:
        """How many bars lie over each other at the most; at least 1."""
        return 1 + max((bar.lane for bar in self.bars), default=0)


def chart_rows(day: Day, plan: Plan) -> tuple[Row, ...]:
    """Every canner, then the stations that work is planned at, then everybody, idle ones too."""
    words = {load.id: load_words(day, load) for load in plan.loads}
    rows = [
        Row(kind=RowKind.CANNER, id=canner.id, name=canner.name, bars=_canner_bars(plan, canner.id, words))
        for canner in day.canners
    ]
    for kind in _AT_STATION:
        tasks = [task for task in plan.tasks if task.kind is kind]
        if tasks:
            bars = _in_lanes(_task_bar(task, task.start, task.end, words) for task in tasks)
            rows.append(Row(kind=RowKind.STATION, id=kind, name=TASK_WORDS[kind], bars=bars))
    rows += [
        Row(kind=RowKind.PERSON, id=person.id, name=person.name, bars=_person_bars(plan, person.id, words))
        for person in day.people
    ]
    return tuple(rows)


def load_words(day: Day, load: Load) -> str:
    """What is in a load, short: ``8 pint applesauce``, several foods joined by a plus sign.

    The food is named by its id, because printed names run to ten words.
    """
    return " + ".join(f"{jars} {jar} {food}" for (food, jar), jars in _contents(day, load).items())


PHASE_WORDS: Mapping[PhaseKind, str] = {
    PhaseKind.LOADING: "loading",
    PhaseKind.HEAT_UP: "heat-up",
    PhaseKind.VENT: "vent",
    PhaseKind.PRESSURE_UP: "pressure-up",
    PhaseKind.PROCESS: "process",
    PhaseKind.COOL_DOWN: "cool-down",
    PhaseKind.REST: "rest",
    PhaseKind.UNLOADING: "unloading",
}
TASK_WORDS: Mapping[TaskKind, str] = {
    TaskKind.PREP: "prep",
    TaskKind.KETTLE: "kettle",
    TaskKind.FILL: "fill",
    TaskKind.WATCH: "watch",
    TaskKind.COOLING: "jars out",
    TaskKind.CLEANING: "cleaning",
}
"""Phases and kinds of work as a person says them."""

_AT_STATION = (TaskKind.PREP, TaskKind.KETTLE, TaskKind.FILL, TaskKind.COOLING, TaskKind.CLEANING)


def bar_words(bar: Bar) -> str:
    """The phase or the work of a bar, as a person says it."""
    return PHASE_WORDS[bar.what] if isinstance(bar.what, PhaseKind) else TASK_WORDS[bar.what]


def _contents(day: Day, load: Load) -> dict[tuple[str, str], int]:
    batches = {batch.id: batch for batch in day.batches}
    contents: dict[tuple[str, str], int] = {}
    for portion in load.portions:
        batch = batches[portion.batch_id]
        key = (batch.food_id.replace("_", " "), batch.jar.words)
        contents[key] = contents.get(key, 0) + portion.jars
    return contents


def _canner_bars(plan: Plan, canner_id: str, words: Mapping[str, str]) -> tuple[Bar, ...]:
    fills = {task.load_id: task for task in plan.tasks if task.kind is TaskKind.FILL}
    cleanings = {task.load_id: task for task in plan.tasks if task.kind is TaskKind.CLEANING}
    bars: list[Bar] = []
    for load in plan.loads:
        if load.canner_id != canner_id:
            continue
        if load.id in fills:
            bars.append(_task_bar(fills[load.id], fills[load.id].start, fills[load.id].end, words))
        bars += [
            Bar(what=phase.kind, start=phase.start, end=phase.end, load_id=load.id, text=words[load.id])
            for phase in load.phases
        ]
        if load.id in cleanings:
            bars.append(
                _task_bar(cleanings[load.id], cleanings[load.id].start, cleanings[load.id].end, words)
            )
    return _in_lanes(bars)


def _person_bars(plan: Plan, person_id: str, words: Mapping[str, str]) -> tuple[Bar, ...]:
    tasks = {task.id: task for task in plan.tasks}
    return _in_lanes(
        _task_bar(tasks[one.task_id], one.start, one.end, words)
        for one in plan.assignments
        if one.person_id == person_id and one.task_id in tasks
    )


def _task_bar(task: Task, start: int, end: int, words: Mapping[str, str]) -> Bar:
    text = words.get(task.load_id, task.load_id)
    return Bar(what=task.kind, start=start, end=end, load_id=task.load_id, text=text, hands=task.hands)


def _in_lanes(bars: Iterable[Bar]) -> tuple[Bar, ...]:
    """The bars by start, each in the first lane that is free."""
    return tuple(_lanes(sorted(bars, key=lambda bar: (bar.start, bar.end, bar.load_id, bar.what))))


def _lanes(bars: Iterable[Bar]) -> Iterator[Bar]:
    free_from: list[int] = []
    for bar in bars:
        lane = next((lane for lane, free in enumerate(free_from) if free <= bar.start), len(free_from))
        free_from[lane : lane + 1] = [bar.end]
        yield Bar(
            what=bar.what,
            start=bar.start,
            end=bar.end,
            load_id=bar.load_id,
            text=bar.text,
            hands=bar.hands,
            lane=lane,
        )
