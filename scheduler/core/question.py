"""The question: jobs that share loads, on machines with hours, capacities and set-ups.

This is parallel-batch scheduling with incompatible families: the jobs of a load are of one family, the load takes as
long as its longest job needs, and between loads a machine is set up anew. A kitchen's canners and an industry's ovens
ask it alike. All times are whole units since the start of the horizon; nothing here knows what is in the machines.
"""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.errors import BadDay
from scheduler.interval import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """One machine.

    ``capacity`` by family, in the unit of ``Job.size``. ``windows`` are its hours, in order and apart; a load and the
    set-up right before it lie inside one of them. ``family_at_first`` is what it is set up for at the start.
    """

    capacity: tuple[int, ...]
    windows: tuple[Span, ...]
    family_at_first: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What goes into one load undivided.

    ``minutes`` by machine: the least time it needs there, None where it may not run. ``most_minutes`` is the longest
    that it may take.
    """

    family: int
    size: int
    release: int
    due: int
    minutes: tuple[int | None, ...]
    most_minutes: int

    @property
    def machines(self) -> tuple[int, ...]:
        """The machines that it may run on."""
        return tuple(number for number, minutes in enumerate(self.minutes) if minutes is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """What is to be small: minutes that machines run, late jobs, minutes late, set-up cost."""

    run: int = 0
    late: int = 0
    tardy: int = 0
    setup: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Machines, jobs, set-ups by (family before, family after), and the weights of the objective.

    Raises:
        BadDay: the parts do not fit together, or a job can run nowhere.
    """

    machines: tuple[Machine, ...]
    jobs: tuple[Job, ...]
    setup_minutes: tuple[tuple[int, ...], ...]
    setup_cost: tuple[tuple[int, ...], ...]
    weights: Weights

    def __post_init__(self) -> None:
        families = len(self.setup_minutes)
        square = all(
            len(table) == families and all(len(row) == families for row in table)
            for table in (self.setup_minutes, self.setup_cost)
        )
        if not square:
            raise BadDay(
                "The set-up tables are not square.", remedy="Give one row and one column per family."
            )
        for number, machine in enumerate(self.machines, 1):
            if len(machine.capacity) != families or not 0 <= machine.family_at_first < families:
                raise BadDay(
                    f"Machine {number} does not match the families.", remedy="Give a capacity per family."
                )
        for number, job in enumerate(self.jobs, 1):
            if len(job.minutes) != len(self.machines) or not 0 <= job.family < families:
                raise BadDay(
                    f"Job {number} does not match the machines.", remedy="Give its time on each machine."
                )
            if not any(job.size <= self.machines[at].capacity[job.family] for at in job.machines):
                raise BadDay(
                    f"Job {number} fits no machine.", remedy="Make it smaller, or allow a larger machine."
                )

    @property
    def horizon(self) -> int:
        """When the last window ends."""
        return max((window.end for machine in self.machines for window in machine.windows), default=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One load of the answer: numbers count from 0."""

    machine: int
    start: int
    minutes: int
    jobs: tuple[int, ...]

    @property
    def end(self) -> int:
        """When it is done."""
        return self.start + self.minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Loads in order of machine and start, their cost, and what is proven about any answer's cost."""

    batches: tuple[Batch, ...]
    cost: int
    bound: int
    bound_name: str

    @property
    def gap(self) -> float:
        """How far above the bound the cost may lie, as a share of the cost; 0 is proven best."""
        return 0.0 if self.cost <= self.bound else (self.cost - self.bound) / self.cost
