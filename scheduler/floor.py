"""The state of the floor: what has begun, what was made ready, what was lost, and what time it is.

It belongs to the question. Nothing in it can be planned any more: the planner works around it, and the judge holds a
plan to it. Times are minutes since the day's origin.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scheduler.cycle import PhaseKind
from scheduler.errors import BadDay
from scheduler.plan import Load, Task, TaskKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """A load whose filling has begun: its jars are in a canner, were, or will be in a moment.

    The first phases of ``load``, ``over`` in number, are over and as recorded, the others as expected. ``clock_from``
    is when the process clock last began, or is expected to begin: after a loss of pressure or boil it runs anew for the
    whole time (rule S6). ``settled`` says that a lead has decided about a deviation (rule S16), so nothing is left to
    say of it.
    """

    load: Load
    tasks: tuple[Task, ...]
    over: int = 0
    clock_from: int | None = None
    settled: bool = False

    @property
    def began(self) -> int:
        """When its first jar was filled."""
        fills = [task.start for task in self.tasks if task.kind is TaskKind.FILL]
        return min([self.load.phases[0].start, *fills])

    def is_over(self, kind: PhaseKind) -> bool:
        """True when this phase is a fact."""
        return any(phase.kind is kind for phase in self.load.phases[: self.over])

    @property
    def is_closed_case(self) -> bool:
        """True when its jars are on hold or a lead has decided: what was recorded is no fault of a new plan."""
        return self.settled or self.load.on_hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """Prep or cooking that began before now for so many jars of a load that has not begun."""

    task: Task
    jars: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LostJars:
    """So many jars of a batch in a lost load."""

    batch_id: str
    jars: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """A load that lost its canner before its process ended. Its jars are not safe by themselves (rules S6, S16).

    ``filled_from`` is when its first jar was filled, None when nobody knows. Only within the waiting limit after that
    (rule S10) may the jars begin again from the start; otherwise they are on hold until the lead decides.
    """

    load_id: str
    canner_id: str
    number: int
    jars: tuple[LostJars, ...]
    reason: str
    filled_from: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """What the day has come to at minute ``now``."""

    now: int
    begun: tuple[Begun, ...] = ()
    prepared: tuple[Prepared, ...] = ()
    lost: tuple[Lost, ...] = ()

    def __post_init__(self) -> None:
        ids = [one.load.id for one in self.begun] + [one.load_id for one in self.lost]
        for load_id in ids:
            if ids.count(load_id) > 1:
                raise BadDay(
                    f"Load {load_id} is told twice.",
                    remedy="Give the state of every load that has begun once.",
                )
        for one in self.begun:
            if not one.load.phases or one.began > self.now:
                raise BadDay(
                    f"Load {one.load.id} is said to have begun, but not before now.",
                    remedy="Give its recorded times, or leave it to be planned.",
                )

    def held(self, wait_limit_minutes: int) -> Iterator[tuple[Lost, LostJars]]:
        """The jars of lost loads that wait for the lead's decision."""
        for lost in self.lost:
            if lost.filled_from is None or self.now - lost.filled_from > wait_limit_minutes:
                for jars in lost.jars:
                    yield lost, jars

    def in_canners(self, batch_id: str) -> int:
        """The jars of a batch in loads that have begun."""
        return sum(
            portion.jars
            for one in self.begun
            for portion in one.load.portions
            if portion.batch_id == batch_id
        )

    def ready(self, batch_id: str) -> int:
        """The jars of a batch whose prep is over, in loads that have not begun."""
        return sum(
            one.jars
            for one in self.prepared
            if one.task.kind is TaskKind.PREP and one.task.batch_id == batch_id and one.task.end <= self.now
        )
