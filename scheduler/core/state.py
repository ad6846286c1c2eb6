"""A schedule to begin with, and a schedule read back out of the compiled loop's arrays."""

from __future__ import annotations

import numpy as np

from scheduler.core.anneal import Best, remember
from scheduler.core.arrays import Arrays
from scheduler.core.question import Batch, Question
from scheduler.core.rows import COUNT, LOAD, LOAD_COLUMNS, State, settle

# The golden ratio in 64 bits, which spreads small seeds over all bits (Knuth, from memory).
_SPREAD = 0x9E3779B97F4A7C15


def first_state(question: Question, arrays: Arrays, seed: int) -> tuple[State, Best]:
    """Every job in a load of its own, by due time, on the machine where it would be done first."""
    jobs, machines = len(question.jobs), len(question.machines)
    state = State(
        row=np.zeros((machines, jobs + 2, 4), np.int64),
        length=np.zeros(machines, np.int64),
        load=np.zeros((jobs + 2, LOAD_COLUMNS), np.int64),
        jobs=np.zeros((jobs + 2, jobs + 2), np.int64),
        load_of=np.arange(jobs, dtype=np.int64),
        trial=np.zeros((2, jobs + 2), np.int64),
        change=np.zeros(16, np.int64),
        random=np.array([(seed * 2 + 1) * _SPREAD % 2**64], np.uint64),
        total=np.zeros(4, np.int64),
    )
    best = Best(
        row=np.zeros((machines, jobs + 2), np.int64),
        length=np.zeros(machines, np.int64),
        load_of=np.zeros(jobs, np.int64),
    )
    busy = [
        machine.windows[0].start if machine.windows else question.horizon for machine in question.machines
    ]
    for number in sorted(range(jobs), key=lambda n: (question.jobs[n].due, n)):
        job = question.jobs[number]
        at = min(
            (m for m in job.machines if job.size <= question.machines[m].capacity[job.family]),
            key=lambda m: max(busy[m], job.release) + (job.minutes[m] or 0),
        )
        busy[at] = max(busy[at], job.release) + (job.minutes[at] or 0)
        state.row[at, state.length[at], LOAD] = number
        state.length[at] += 1
        state.jobs[number, 0] = number
        state.load[number, COUNT] = 1
    settle(arrays, state)
    remember(state, best)
    return state, best


def batches_of(question: Question, best: Best) -> tuple[Batch, ...]:
    """The schedule as loads with their starts."""
    members: dict[int, list[int]] = {}
    for job, load in enumerate(best.load_of.tolist()):
        members.setdefault(load, []).append(job)
    batches: list[Batch] = []
    for machine, hours in enumerate(question.machines):
        end, family, window = 0, hours.family_at_first, 0
        for load in best.row[machine, : best.length[machine]].tolist():
            jobs = tuple(members[load])
            mine = question.jobs[jobs[0]].family
            minutes = max(question.jobs[job].minutes[machine] or 0 for job in jobs)
            release = max(question.jobs[job].release for job in jobs)
            setup = question.setup_minutes[family][mine]
            start = -1
            while window < len(hours.windows):
                span = hours.windows[window]
                start = max(max(end, span.start) + setup, release)
                if start + minutes <= span.end:
                    break
                window += 1
            batches.append(Batch(machine=machine, start=start, minutes=minutes, jobs=jobs))
            end, family = start + minutes, mine
    return tuple(batches)
