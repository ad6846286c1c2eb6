"""The constraint solver's part: a better answer or a proof, for questions small enough.

A load is named by the job of it that runs longest, so its run time is known. Each machine's loads form a circuit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scheduler.core.question import Batch, Question

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_JOBS = 60
"""Beyond this the model is large and proves next to nothing in a minute (tried on the published instances)."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What the solver showed: no answer costs less than ``bound``. ``cost`` is its best, ``batches`` if better."""

    bound: int
    cost: int
    batches: tuple[Batch, ...] | None


def can_prove(question: Question) -> bool:
    """True when the model covers the question: few jobs, the same run time on every machine, no minutes late."""
    same = all(len({one for one in job.minutes if one is not None}) == 1 for job in question.jobs)
    return len(question.jobs) <= MOST_JOBS and same and question.weights.tardy == 0


class Prover:
    """Searches for an answer better than a known one, or shows that there is none."""

    def __init__(self, question: Question) -> None:
        from ortools.sat.python import cp_model  # noqa: PLC0415 - heavy, and most plans need no proof.

        self._question = question
        self._solver = cp_model.CpSolver()
        self._stopped = False

    def prove(self, known: Sequence[Batch], known_cost: int, least: int, seconds: float, seed: int) -> Proof:
        """Search for so many seconds; ``least`` is a bound that is known already."""
        from ortools.sat.python import cp_model  # noqa: PLC0415

        model = _Model(self._question)
        model.hint(known)
        model.bound(least, known_cost)
        parameters = self._solver.parameters
        parameters.num_workers, parameters.random_seed, parameters.max_time_in_seconds = (
            1,
            seed,
            max(seconds, 0.01),
        )
        if self._stopped:
            return Proof(least, known_cost, None)
        status = self._solver.solve(model.model)
        if status == cp_model.UNKNOWN:
            return Proof(self._bound(least, known_cost), known_cost, None)
        if status == cp_model.INFEASIBLE:
            return Proof(known_cost, known_cost, None)
        cost = round(self._solver.objective_value)
        return Proof(self._bound(least, cost), cost, model.read(self._solver))

    def stop(self) -> None:
        """End a running search soon; what it has found so far counts."""
        self._stopped = True
        self._solver.stop_search()

    def _bound(self, least: int, cost: int) -> int:
        return max(least, min(cost, math.ceil(self._solver.best_objective_bound - 1e-6)))


class _Model:
    """The model; ``lead`` are the jobs of a family, longest first: each may lead a load of those behind it."""

    def __init__(self, question: Question) -> None:
        from ortools.sat.python import cp_model  # noqa: PLC0415

        self.question = question
        self.model = cp_model.CpModel()
        self.minutes = [max(one for one in job.minutes if one is not None) for job in question.jobs]
        count = range(len(question.jobs))
        self.joins: dict[tuple[int, int], cp_model.IntVar] = {}
        self.on: dict[tuple[int, int], cp_model.IntVar] = {}
        self.arcs: dict[tuple[int, int, int], cp_model.IntVar] = {}
        self.start = [self.model.new_int_var(0, question.horizon, f"start {i}") for i in count]
        self.late = [self.model.new_bool_var(f"late {i}") for i in count]
        self._form_loads()
        self._choose_machines()
        for machine in range(len(question.machines)):
            self._sequence(machine)
        self._windows()
        self._dues()
        self.cost = self._cost()
        self.model.minimize(self.cost)

    def _form_loads(self) -> None:
        jobs, model = self.question.jobs, self.model
        order = sorted(range(len(jobs)), key=lambda i: (jobs[i].family, -self.minutes[i], i))
        for at, lead in enumerate(order):
            for job in order[at:]:
                if jobs[job].family == jobs[lead].family and self._together(lead, job):
                    self.joins[lead, job] = model.new_bool_var(f"{job} with {lead}")
        for job in order:
            model.add_exactly_one(var for (_, member), var in self.joins.items() if member == job)
        for (lead, job), var in self.joins.items():
            if job != lead:
                model.add_implication(var, self.joins[lead, lead])
            model.add(self.start[lead] >= jobs[job].release).only_enforce_if(var)

    def _together(self, lead: int, job: int) -> bool:
        jobs = self.question.jobs
        if lead == job:
            return True
        room = max(machine.capacity[jobs[lead].family] for machine in self.question.machines)
        common = set(jobs[lead].machines) & set(jobs[job].machines)
        return (
            bool(common)
            and jobs[lead].size + jobs[job].size <= room
            and self.minutes[lead] <= jobs[job].most_minutes
        )

    def _choose_machines(self) -> None:
        jobs, machines, model = self.question.jobs, self.question.machines, self.model
        for lead in range(len(jobs)):
            for machine in jobs[lead].machines:
                self.on[lead, machine] = model.new_bool_var(f"{lead} on {machine}")
            chosen = [self.on[lead, machine] for machine in jobs[lead].machines]
            model.add(sum(chosen) == self.joins[lead, lead])
            members = [(job, var) for (one, job), var in self.joins.items() if one == lead]
            family = jobs[lead].family
            model.add(
                sum(jobs[job].size * var for job, var in members)
                <= sum(
                    machines[machine].capacity[family] * self.on[lead, machine]
                    for machine in jobs[lead].machines
                )
            )
            for job, var in members:
                for machine in set(jobs[lead].machines) - set(jobs[job].machines):
                    model.add_bool_or(var.negated(), self.on[lead, machine].negated())

    def _sequence(self, machine: int) -> None:
        """Node 0 is the machine's beginning and end."""
        question, model = self.question, self.model
        leads = [lead for lead in range(len(question.jobs)) if (lead, machine) in self.on]
        first = question.machines[machine].family_at_first
        arcs: list[tuple[int, int, cp_model.LiteralT]] = [(0, 0, model.new_bool_var(f"{machine} idle"))]
        intervals = []
        for lead in leads:
            self.arcs[machine, -1, lead] = model.new_bool_var(f"{machine} {lead} first")
            arcs.append((0, lead + 1, self.arcs[machine, -1, lead]))
            arcs.append((lead + 1, 0, model.new_bool_var(f"{machine} {lead} last")))
            arcs.append((lead + 1, lead + 1, self.on[lead, machine].negated()))
            intervals.append(
                model.new_optional_fixed_size_interval_var(
                    self.start[lead], self.minutes[lead], self.on[lead, machine], f"{lead} run on {machine}"
                )
            )
            setup = question.setup_minutes[first][question.jobs[lead].family]
            model.add(self.start[lead] >= setup).only_enforce_if(self.arcs[machine, -1, lead])
            for other in leads:
                if other != lead:
                    self._follow(machine, lead, other)
                    arcs.append((lead + 1, other + 1, self.arcs[machine, lead, other]))
        model.add_circuit(arcs)
        model.add_no_overlap(intervals)

    def _follow(self, machine: int, lead: int, other: int) -> None:
        jobs = self.question.jobs
        arc = self.model.new_bool_var(f"{machine} {lead} {other}")
        self.arcs[machine, lead, other] = arc
        setup = self.question.setup_minutes[jobs[lead].family][jobs[other].family]
        self.model.add(self.start[other] >= self.start[lead] + self.minutes[lead] + setup).only_enforce_if(
            arc
        )

    def _setups(self, table: Sequence[Sequence[int]], lead: int) -> cp_model.LinearExpr:
        jobs, machines = self.question.jobs, self.question.machines
        return _sum(
            table[machines[machine].family_at_first if before < 0 else jobs[before].family][jobs[lead].family]
            * arc
            for (machine, before, after), arc in self.arcs.items()
            if after == lead
        )

    def _windows(self) -> None:
        question, model = self.question, self.model
        for lead in range(len(question.jobs)):
            setup = self._setups(question.setup_minutes, lead)
            for machine in question.jobs[lead].machines:
                inside = []
                for number, window in enumerate(question.machines[machine].windows):
                    if window.minutes < self.minutes[lead]:
                        continue
                    chosen = model.new_bool_var(f"{lead} {machine} window {number}")
                    model.add(self.start[lead] - setup >= window.start).only_enforce_if(chosen)
                    model.add(self.start[lead] + self.minutes[lead] <= window.end).only_enforce_if(chosen)
                    inside.append(chosen)
                model.add(sum(inside) == self.on[lead, machine])

    def _dues(self) -> None:
        for (lead, job), var in self.joins.items():
            latest = self.question.jobs[job].due - self.minutes[lead]
            self.model.add(self.start[lead] <= latest).only_enforce_if(var, self.late[job].negated())

    def _cost(self) -> cp_model.LinearExpr:
        weights = self.question.weights
        leads = range(len(self.question.jobs))
        run = _sum(self.minutes[lead] * self.joins[lead, lead] for lead in leads)
        setups = _sum(self._setups(self.question.setup_cost, lead) for lead in leads)
        return weights.run * run + weights.late * _sum(self.late) + weights.setup * setups

    def bound(self, least: int, known_cost: int) -> None:
        """What is known already: no less than ``least``, and only what is better than the known is of interest."""
        self.model.add(self.cost >= least)
        self.model.add(self.cost <= known_cost - 1)

    def hint(self, known: Sequence[Batch]) -> None:
        """Begin near a known answer."""
        leads = {}
        for batch in known:
            ordered = [job for job in self._order() if job in batch.jobs]
            leads[ordered[0]] = batch
        for (lead, job), var in self.joins.items():
            self.model.add_hint(var, lead in leads and job in leads[lead].jobs)
        for (lead, machine), var in self.on.items():
            self.model.add_hint(var, lead in leads and leads[lead].machine == machine)
        for lead, batch in leads.items():
            self.model.add_hint(self.start[lead], batch.start)

    def _order(self) -> list[int]:
        jobs = self.question.jobs
        return sorted(range(len(jobs)), key=lambda i: (jobs[i].family, -self.minutes[i], i))

    def read(self, solver: cp_model.CpSolver) -> tuple[Batch, ...]:
        """The answer that the solver holds."""
        batches = [
            Batch(
                machine=machine,
                start=solver.value(self.start[lead]),
                minutes=self.minutes[lead],
                jobs=tuple(
                    sorted(job for (one, job), var in self.joins.items() if one == lead and solver.value(var))
                ),
            )
            for (lead, machine), var in self.on.items()
            if solver.value(var)
        ]
        return tuple(sorted(batches, key=lambda batch: (batch.machine, batch.start)))


def _sum(terms: Iterable[cp_model.LinearExprT]) -> cp_model.LinearExpr:
    from ortools.sat.python import cp_model  # noqa: PLC0415

    return cp_model.LinearExpr.sum([0, *terms]) + cp_model.LinearExpr.constant(0)
