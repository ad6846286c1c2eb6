"""The answer: which loads, when every phase runs, who does what, how good it is and what was left out.

Times are minutes since ``Day.origin``, as in the question. A plan believes nothing about itself: the judge
recomputes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from scheduler.cycle import PhaseKind
from scheduler.interval import Span


class TaskKind(StrEnum):
    """What people do for a load."""

    PREP = "prep"
    KETTLE = "kettle"
    FILL = "fill"
    WATCH = "watch"
    CLEANING = "cleaning"
    COOLING = "cooling"


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """One phase of a canner's cycle (rule S4)."""

    kind: PhaseKind
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """The jars of one batch in a load, with what the run sheet says of them.

    ``process_key`` names the printed row of the published tables; ``acid`` says, in words, what each jar
    needs (rule S14).
    """

    batch_id: str
    jars: int
    process_key: str
    headspace_in: float
    sterilise_jars: bool
    acid: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where a load's jars cool (rule S12)."""

    table_id: str
    start: int
    end: int
    area_sq_in: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One run of one canner.

    ``number`` counts the canner's loads of the day. ``water_jars`` fill up a part load (rule S13).
    ``interruptions`` are the minutes at which pressure or boil was lost (rule S6); ``deviation`` names a
    broken rule, whose jars are on hold (rule S16).
    """

    id: str
    canner_id: str
    number: int
    portions: tuple[Portion, ...]
    method: str
    pressure_psi: float | None
    process_minutes: int
    target_reading_psi: float | None
    phases: tuple[Phase, ...]
    water_jars: int
    stand: Stand | None
    first_call: int
    seal_check: int
    reprocess_by: int
    interruptions: tuple[int, ...] = ()
    deviation: str | None = None
    on_hold: bool = False

    @property
    def jars(self) -> int:
        """Jars of food in the load."""
        return sum(portion.jars for portion in self.portions)

    @property
    def jars_out(self) -> int:
        """The minute the last jar is on the table."""
        return self.phases[-1].end

    @property
    def span(self) -> Span:
        """From the first jar in to the last jar out."""
        return Span(self.phases[0].start, self.phases[-1].end)

    def phase(self, kind: PhaseKind) -> Phase | None:
        """The phase of this kind, or None when the cycle has none."""
        return next((phase for phase in self.phases if phase.kind is kind), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A piece of work at a station. A watch runs from heat on to heat off (rule S9)."""

    id: str
    kind: TaskKind
    start: int
    end: int
    hands: int
    load_id: str
    batch_id: str | None = None
    kettle_id: str | None = None

    @property
    def span(self) -> Span:
        """When it is done."""
        return Span(self.start, self.end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """A person at a task for a time."""

    task_id: str
    person_id: str
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """Jars that found no place, with a plain reason and what would help."""

    batch_id: str
    jars: int
    code: str
    reason: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level of the objective: what was reached, and the proven least it could be."""

    name: str
    value: int
    bound: int
    bound_name: str
    unit: str

    @property
    def gap(self) -> float:
        """How far above the bound, as a share of the value; 0 when proven best."""
        return 0.0 if self.value <= self.bound else (self.value - self.bound) / self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """How the plan came to be, enough to make it again."""

    planner: str
    seed: int
    iterations: int
    stopped_because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A day, planned. ``day_digest`` ties it to the question it answers."""

    day_digest: str
    loads: tuple[Load, ...]
    tasks: tuple[Task, ...]
    assignments: tuple[Assignment, ...]
    left_out: tuple[LeftOut, ...]
    levels: tuple[Level, ...]
    warnings: tuple[str, ...]
    caution: str
    provenance: Provenance

    def load(self, load_id: str) -> Load:
        """The load with this id; ``KeyError`` when there is none."""
        for load in self.loads:
            if load.id == load_id:
                return load
        raise KeyError(load_id)
