"""A question as flat arrays of whole numbers, as the compiled loop reads it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.core.question import Question

Ints = NDArray[np.int64]

# Columns of Arrays.job and Arrays.machine (its capacities by family come last), places in Arrays.number.
(
    JOB_FAMILY,
    JOB_SIZE,
    JOB_RELEASE,
    JOB_DUE,
    JOB_MOST_MINUTES,
    JOB_KIN_FIRST,
    JOB_KIN_COUNT,
    JOB_MACHINE_COUNT,
) = range(8)
WINDOWS, INITIAL, CAPACITY = range(3)
RUN_WEIGHT, LATE_WEIGHT, TARDY_WEIGHT, HORIZON, MIX = range(5)

# How many of a hundred changes are of each kind, added up: move a job, swap jobs, split one off, merge loads, swap
# loads, swap the tails of rows, move a few loads together; the rest move a load. Tried on the published instances.
CHANGES = (25, 55, 62, 65, 77, 79, 84)


class Arrays(NamedTuple):
    """The question. ``kin`` lists the jobs by family; each job knows where its family begins and how large it is."""

    job: Ints  # [job, column]
    minutes: Ints  # [job, machine], -1 where it may not run
    machines_of: Ints  # [job, n]
    machine: Ints  # [machine, column]
    window: Ints  # [machine, n, start or end]
    setup: Ints  # [family before, family after, minutes or weighted cost]
    kin: Ints  # [n]
    number: Ints  # weights, horizon and the mix of changes


def arrays_of(question: Question) -> Arrays:
    """The same question in arrays; costs are multiplied by their weights."""
    jobs, machines, weights = question.jobs, question.machines, question.weights
    window = np.zeros(
        (len(machines), max((len(machine.windows) for machine in machines), default=0), 2), np.int64
    )
    for number, machine in enumerate(machines):
        for at, span in enumerate(machine.windows):
            window[number, at] = span.start, span.end
    machines_of = np.zeros((len(jobs), len(machines)), np.int64)
    for number, job in enumerate(jobs):
        machines_of[number, : len(job.machines)] = job.machines
    kin = sorted(range(len(jobs)), key=lambda number: jobs[number].family)
    families = [jobs[number].family for number in kin]
    setup_cost = [[cost * weights.setup for cost in row] for row in question.setup_cost]
    return Arrays(
        job=np.array(
            [
                (
                    job.family, job.size, job.release, job.due, job.most_minutes,
                    families.index(job.family), families.count(job.family), len(job.machines),
                )
                for job in jobs
            ],
            np.int64,
        ),
        minutes=np.array([[-1 if one is None else one for one in job.minutes] for job in jobs], np.int64),
        machines_of=machines_of,
        machine=np.array(
            [(len(machine.windows), machine.family_at_first, *machine.capacity) for machine in machines], np.int64
        ),
        window=window,
        setup=np.array(np.stack((question.setup_minutes, setup_cost), axis=-1), np.int64),
        kin=np.array(kin, np.int64),
        number=np.array((weights.run, weights.late, weights.tardy, question.horizon, *CHANGES), np.int64),
    )  # fmt: skip
