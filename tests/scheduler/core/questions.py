"""Small random questions, and every answer there is to the smallest of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations, product
from random import Random

from scheduler.core.check import cost_of, faults_of
from scheduler.core.question import Batch, Job, Machine, Question, Weights
from scheduler.interval import Span


def random_question(seed: int, jobs: int, *, tardy: bool = False, same_minutes: bool = True) -> Question:
    """A question with two machines, two or three families and windows that interrupt the day."""
    random = Random(seed)  # noqa: S311 - a repeatable question, not a secret.
    families = random.choice((2, 3))

    def table(most: int) -> tuple[tuple[int, ...], ...]:
        return tuple(tuple(random.randint(0, most) for _ in range(families)) for _ in range(families))

    machines = tuple(
        Machine(
            capacity=tuple(random.randint(6, 9) for _ in range(families)),
            windows=(Span(random.randint(0, 5), 40), Span(45, 300)),
            family_at_first=random.randrange(families),
        )
        for _ in range(2)
    )
    return Question(
        machines=machines,
        jobs=tuple(_job(random, families, same_minutes=same_minutes) for _ in range(jobs)),
        setup_minutes=table(4),
        setup_cost=table(6),
        weights=Weights(
            run=random.choice((0, 1, 4)),
            late=random.choice((0, 30)),
            tardy=2 * tardy,
            setup=random.choice((0, 2)),
        ),
    )


def _job(random: Random, families: int, *, same_minutes: bool) -> Job:
    release, least = random.randint(0, 30), random.randint(3, 12)
    other = least if same_minutes else random.randint(3, 12)
    minutes = random.choice(((least, other), (least, other), (least, None), (None, other)))
    return Job(
        family=random.randrange(families),
        size=random.randint(1, 6),
        release=release,
        due=release + random.randint(5, 40),
        minutes=minutes,
        most_minutes=random.choice((12, 20)),
    )


def best_cost(question: Question) -> int:
    """The least cost among all answers: every way to form loads, on every machine, in every order."""
    return min(
        cost_of(question, batches) for batches in _answers(question) if not faults_of(question, batches)
    )


def _answers(question: Question) -> Iterator[list[Batch]]:
    for loads in _partitions(range(len(question.jobs))):
        if any(len({question.jobs[job].family for job in load}) > 1 for load in loads):
            continue
        for on in product(range(len(question.machines)), repeat=len(loads)):
            if any(
                question.jobs[job].minutes[m] is None
                for load, m in zip(loads, on, strict=True)
                for job in load
            ):
                continue
            rows = [[load for load, m in zip(loads, on, strict=True) if m == machine] for machine in range(2)]
            for first, second in product(permutations(rows[0]), permutations(rows[1])):
                yield [*_as_early(question, 0, first), *_as_early(question, 1, second)]


def _partitions(jobs: Sequence[int]) -> Iterator[list[list[int]]]:
    if not jobs:
        yield []
        return
    for rest in _partitions(jobs[1:]):
        yield [[jobs[0]], *rest]
        for at, load in enumerate(rest):
            yield [*rest[:at], [jobs[0], *load], *rest[at + 1 :]]


def _as_early(question: Question, machine: int, row: Sequence[Sequence[int]]) -> Iterator[Batch]:
    """Minute by minute: the first start that keeps set-up, window and releases."""
    free, family = 0, question.machines[machine].family_at_first
    for load in row:
        jobs = [question.jobs[job] for job in load]
        minutes = max(job.minutes[machine] or 0 for job in jobs)
        setup = question.setup_minutes[family][jobs[0].family]
        start = next(
            (
                t
                for t in range(max(free + setup, *(job.release for job in jobs), 0), question.horizon)
                if any(
                    w.start <= t - setup and t + minutes <= w.end for w in question.machines[machine].windows
                )
            ),
            question.horizon,
        )
        yield Batch(machine=machine, start=start, minutes=minutes, jobs=tuple(load))
        free, family = start + minutes, jobs[0].family
