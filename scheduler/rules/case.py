"""What is judged: a day and a plan for it, looked up safely, for the plan may name what does not exist."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, timedelta, tzinfo
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduler.canner import Burner, Canner
from scheduler.cycle import PhaseKind
from scheduler.errors import NoPublishedProcess, UnknownFood
from scheduler.floor import Begun
from scheduler.foods import find_food
from scheduler.jars import JarSize
from scheduler.plan import Assignment, Load, Phase, Plan, Portion, Task, TaskKind
from scheduler.printed_process import Process
from scheduler.problem import Batch, CoolingTable, Day, Kettle, Person
from scheduler.process import process_named


@dataclass(frozen=True, slots=True, kw_only=True)
class Violation:
    """A rule that the plan breaks: its name, what is wrong in the kitchen's words, and the load if it is one's."""

    rule: str
    message: str
    load_id: str | None = None


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


_Thing = TypeVar("_Thing", bound=_HasId)


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """A portion with what the day and the published tables say of it; None where they know nothing."""

    portion: Portion
    batch: Batch | None
    process: Process | None

    @property
    def meat_or_fish(self) -> bool:
        """True when the member or the guide says so: a missing mark is no reason to skip cleaning (rule S15)."""
        return self.batch is not None and (self.batch.meat_or_fish or _is_meat_or_fish(self.batch.food_id))


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A day, a plan, and look-ups that answer None instead of failing.

    On a day under way ``since`` is now: what lies before it has happened, and no plan is judged by it. ``begun`` holds
    the loads that have begun, ``ahead`` the parts of the assignments that are still to come and ``named`` the same by
    task; ``work`` are the tasks by load.
    """

    day: Day
    plan: Plan
    zone: tzinfo
    canners: Mapping[str, Canner]
    burners: Mapping[str, Burner]
    kettles: Mapping[str, Kettle]
    batches: Mapping[str, Batch]
    people: Mapping[str, Person]
    tables: Mapping[str, CoolingTable]
    loads: Mapping[str, Load]
    tasks: Mapping[str, Task]
    work: Mapping[str, tuple[Task, ...]]
    begun: Mapping[str, Begun]
    since: int
    ahead: tuple[Assignment, ...]
    named: Mapping[str, tuple[Assignment, ...]]

    @classmethod
    def of(cls, day: Day, plan: Plan) -> Case:
        """The look-ups of a day and a plan."""
        floor = day.floor
        since = EVER if floor is None else floor.now
        ahead = tuple(_from(one, since) for one in plan.assignments if one.end > since)
        return cls(
            day=day,
            plan=plan,
            zone=_zone(day),
            canners=_by_id(day.canners),
            burners=_by_id(day.burners),
            kettles=_by_id(day.kettles),
            batches=_by_id(day.batches),
            people=_by_id(day.people),
            tables=_by_id(day.tables),
            loads=_by_id(plan.loads),
            tasks=_by_id(plan.tasks),
            work=_gathered(plan.tasks, lambda task: task.load_id),
            begun={} if floor is None else {one.load.id: one for one in floor.begun},
            since=since,
            ahead=ahead,
            named=_gathered(ahead, lambda one: one.task_id),
        )

    def without_closed(self) -> Case:
        """The same without the begun loads whose jars are on hold or decided about: what is in those jars is known."""
        closed = {load_id for load_id, one in self.begun.items() if one.is_closed_case}
        if not closed:
            return self
        loads = tuple(load for load in self.plan.loads if load.id not in closed)
        return replace(self, plan=replace(self.plan, loads=loads))

    def is_recorded(self, load: Load, phase: Phase) -> bool:
        """True when the phase of a load that has begun is over: it is a fact."""
        begun = self.begun.get(load.id)
        return begun is not None and begun.is_over(phase.kind)

    def is_made_ready(self, batch_id: str) -> bool:
        """True when the jars of a batch that the plan does not prepare were all prepared before now."""
        floor = self.day.floor
        if floor is None:
            return False
        bare = sum(
            portion.jars
            for load in self.plan.loads
            if load.id not in self.begun
            for portion in load.portions
            if portion.batch_id == batch_id and not self._prepares(load, batch_id)
        )
        used = sum(
            one.jars
            for one in floor.prepared
            if one.task.batch_id == batch_id
            and one.task.end <= floor.now
            and one.task.id in self.tasks
            and one.task.kind is TaskKind.PREP
        )
        return bare + used <= floor.ready(batch_id)

    def _prepares(self, load: Load, batch_id: str) -> bool:
        return any(task.batch_id == batch_id for task in self.of_load(load, TaskKind.PREP))

    def clock(self, minute: int) -> str:
        """A minute of the day as the clock on the kitchen's wall shows it, with the date when it is another day."""
        try:
            at = (self.day.origin.astimezone(UTC) + timedelta(minutes=minute)).astimezone(self.zone)
        except OverflowError:
            return f"minute {minute}"
        return f"{at:%H:%M}" if at.date() == self.day.date else f"{at:%H:%M} on {at.date().isoformat()}"

    def on_canners(self) -> Iterator[tuple[Load, Canner]]:
        """The loads whose canner exists."""
        for load in self.plan.loads:
            canner = self.canners.get(load.canner_id)
            if canner is not None:
                yield load, canner

    def contents(self, load: Load) -> tuple[Content, ...]:
        """The portions of a load with their batches and printed rows."""
        return tuple(
            Content(
                portion=portion,
                batch=self.batches.get(portion.batch_id),
                process=_process(portion.process_key),
            )
            for portion in load.portions
        )

    def jars(self, load: Load) -> dict[JarSize, int]:
        """Jars of food by size. Portions of unknown batches and portions without jars are left away."""
        jars: dict[JarSize, int] = {}
        for content in self.contents(load):
            if content.batch is not None and content.portion.jars > 0:
                size = content.batch.jar
                jars[size] = jars.get(size, 0) + content.portion.jars
        return jars

    def full_minutes(self, load: Load) -> int | None:
        """The process minutes the tables ask of this load: the longest of its printed rows."""
        return max((one.process.process_minutes for one in self.contents(load) if one.process), default=None)

    def meat_or_fish(self, load: Load) -> bool:
        """True when any of its jars hold meat or fish."""
        return any(content.meat_or_fish for content in self.contents(load))

    def of_load(self, load: Load, kind: TaskKind) -> tuple[Task, ...]:
        """The load's tasks of one kind."""
        return tuple(task for task in self.work.get(load.id, ()) if task.kind is kind)

    def fill(self, load: Load) -> Task | None:
        """The first filling of the load."""
        return min(self.of_load(load, TaskKind.FILL), key=lambda task: task.start, default=None)

    def taken(self, load: Load) -> tuple[int, int] | None:
        """From the first jar filled to the last jar out: how long the canner is taken. None for nonsense."""
        if not load.phases:
            return None
        fill = self.fill(load)
        start = load.phases[0].start if fill is None else min(fill.start, load.phases[0].start)
        return (start, load.jars_out) if start < load.jars_out else None

    def on_canner(self, canner_id: str) -> list[Load]:
        """The loads of a canner that have phases, by their beginning."""
        loads = [load for load in self.plan.loads if load.canner_id == canner_id and load.phases]
        return sorted(loads, key=lambda load: load.phases[0].start)


EVER = -(10**15)
"""A minute before anything that a plan may hold."""


def _from(one: Assignment, minute: int) -> Assignment:
    return replace(one, start=max(one.start, minute))


_Piece = TypeVar("_Piece")


def _gathered(pieces: Iterable[_Piece], of: Callable[[_Piece], str]) -> dict[str, tuple[_Piece, ...]]:
    found: dict[str, list[_Piece]] = {}
    for piece in pieces:
        found.setdefault(of(piece), []).append(piece)
    return {key: tuple(own) for key, own in found.items()}


def heat(load: Load) -> tuple[int, int] | None:
    """From heat on to heat off; None when the load lacks the phases or they run backwards."""
    on, off = load.phase(PhaseKind.HEAT_UP), load.phase(PhaseKind.PROCESS)
    return None if on is None or off is None or off.end <= on.start else (on.start, off.end)


def minutes_of(phase: Phase | Task) -> int:
    """How long it lasts; below zero when it runs backwards."""
    return phase.end - phase.start


def _by_id(things: Iterable[_Thing]) -> dict[str, _Thing]:
    return {thing.id: thing for thing in things}


def _zone(day: Day) -> tzinfo:
    try:
        return ZoneInfo(day.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC


def _process(key: str) -> Process | None:
    try:
        return process_named(key)
    except NoPublishedProcess:
        return None


def _is_meat_or_fish(food_id: str) -> bool:
    try:
        return find_food(food_id).meat_or_fish
    except UnknownFood:
        return False
