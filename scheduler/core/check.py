"""Looks at an answer again, with nothing but the question and the answer: no code of the search is used here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from scheduler.core.question import Batch, Job, Question


def faults_of(question: Question, batches: Sequence[Batch]) -> list[str]:
    """What is wrong with an answer, in words; numbers count from 1."""
    faults = [*_members(question, batches)]
    for number in range(len(question.machines)):
        row = sorted(
            (batch for batch in batches if batch.machine == number and batch.jobs),
            key=lambda batch: batch.start,
        )
        faults += _row(question, number, row)
    return faults


def cost_of(question: Question, batches: Sequence[Batch]) -> int:
    """The objective of an answer, worked out anew."""
    weights = question.weights
    cost = weights.run * sum(batch.minutes for batch in batches)
    for batch in batches:
        for job in batch.jobs:
            tardy = max(0, batch.start + batch.minutes - question.jobs[job].due)
            cost += weights.tardy * tardy + (weights.late if tardy else 0)
    for number, machine in enumerate(question.machines):
        family = machine.family_at_first
        for batch in sorted((one for one in batches if one.machine == number), key=lambda one: one.start):
            following = question.jobs[batch.jobs[0]].family
            cost += weights.setup * question.setup_cost[family][following]
            family = following
    return cost


def _members(question: Question, batches: Sequence[Batch]) -> Iterator[str]:
    placed = Counter(job for batch in batches for job in batch.jobs)
    for number in range(len(question.jobs)):
        if placed[number] != 1:
            yield f"job {number + 1} is in {placed[number]} loads"
    for batch in batches:
        jobs = [question.jobs[job] for job in batch.jobs]
        where = f"the load of machine {batch.machine + 1} at {batch.start}"
        if not jobs:
            yield f"{where} is empty"
            continue
        if len({job.family for job in jobs}) > 1:
            yield f"{where} mixes families"
        if sum(job.size for job in jobs) > question.machines[batch.machine].capacity[jobs[0].family]:
            yield f"{where} is too full"
        yield from (f"{where} {fault}" for job in jobs for fault in _times(job, batch))


def _times(job: Job, batch: Batch) -> Iterator[str]:
    least = job.minutes[batch.machine]
    if least is None:
        yield "holds a job that may not run there"
    elif not least <= batch.minutes <= job.most_minutes:
        yield f"runs {batch.minutes}, a job needs {least} to {job.most_minutes}"
    if batch.start < job.release:
        yield f"starts before a job is released at {job.release}"


def _row(question: Question, number: int, row: Sequence[Batch]) -> Iterator[str]:
    machine = question.machines[number]
    family, free = machine.family_at_first, None
    for batch in row:
        following = question.jobs[batch.jobs[0]].family
        begins = batch.start - question.setup_minutes[family][following]
        if free is not None and begins < free:
            yield f"machine {number + 1} is not set up in time for its load at {batch.start}"
        if not any(
            hours.start <= begins and batch.start + batch.minutes <= hours.end for hours in machine.windows
        ):
            yield f"the load of machine {number + 1} at {batch.start} and its set-up lie in no window"
        family, free = following, batch.start + batch.minutes
