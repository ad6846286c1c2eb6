"""What no answer can beat: a least cost put together from a least for each part of the objective."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from scheduler.core.question import Job, Question


def least_cost(question: Question) -> int:
    """A lower bound on any answer's cost: run time, late jobs, minutes late and set-ups, each at its own least."""
    weights = question.weights
    cost = 0
    for family in sorted({job.family for job in question.jobs}):
        jobs = [job for job in question.jobs if job.family == family]
        room = max(machine.capacity[family] for machine in question.machines)
        cost += weights.run * _least_run(jobs, room)
        cost += (
            weights.setup * _least_loads([job.size for job in jobs], room) * _least_setup(question, family)
        )
    for job in question.jobs:
        tardy = max(0, _earliest_end(question, job) - job.due)
        cost += weights.late * (tardy > 0) + weights.tardy * tardy
    return cost


def _least(job: Job) -> int:
    return min(minutes for minutes in job.minutes if minutes is not None)


def _least_run(jobs: Sequence[Job], room: int) -> int:
    """Of the loads that run for more than t, there are at least those that the jobs longer than t need."""
    ordered = sorted(jobs, key=_least, reverse=True)
    total = 0
    for count, (job, shorter) in enumerate(pairwise([*map(_least, ordered), 0]), 1):
        if job > shorter:
            total += (job - shorter) * _least_loads([one.size for one in ordered[:count]], room)
    return total


def _least_loads(sizes: Sequence[int], room: int) -> int:
    """Loads that so many sizes need at least.

    For a size k up to half the room: what is larger than room - k stands with nothing of k or more, what is larger than
    half with no other like it, and the rest fills only what these leave (Martello and Toth, Knapsack Problems, 1990,
    bound L2).
    """
    best = 0
    for k in sorted({0, *(size for size in sizes if 2 * size <= room)}):
        alone = [size for size in sizes if size > room - k]
        halves = [size for size in sizes if room >= 2 * k and 2 * size > room and size <= room - k]
        small = sum(size for size in sizes if k <= size and 2 * size <= room)
        free = len(halves) * room - sum(halves)
        best = max(best, len(alone) + len(halves) + max(0, -(-(small - free) // room)))
    return best


def _least_setup(question: Question, family: int) -> int:
    return min(row[family] for row in question.setup_cost)


def _earliest_end(question: Question, job: Job) -> int:
    """When the job could be done at the earliest with everything to itself."""
    ends = []
    for number in job.machines:
        minutes = job.minutes[number] or 0
        for window in question.machines[number].windows:
            start = max(job.release, window.start + min(row[job.family] for row in question.setup_minutes))
            if start + minutes <= window.end:
                ends.append(start + minutes)
                break
    return min(ends, default=question.horizon)
