"""Every jar once: rule "count", and the caution of rule S17."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from scheduler.caution import CAUTION
from scheduler.rules.case import Case, Violation


def check_count(case: Case) -> Iterator[Violation]:
    """ "count": of each batch the jars placed and left out are all its jars, and nothing has two of one id."""
    yield from _twice(case)
    for load in case.plan.loads:
        if not load.portions:
            yield Violation(rule="count", message=f"Load {load.id} holds no jars.", load_id=load.id)
        for portion in load.portions:
            if portion.batch_id not in case.batches:
                yield Violation(
                    rule="count",
                    message=f"Load {load.id} holds jars of batch {portion.batch_id!r}, which does not exist.",
                    load_id=load.id,
                )
            if portion.jars < 1:
                yield Violation(
                    rule="count",
                    message=f"Load {load.id} holds {portion.jars} jars of batch {portion.batch_id}.",
                    load_id=load.id,
                )
    yield from _left_out(case)
    yield from _totals(case)


def check_caution(case: Case) -> Iterator[Violation]:
    """S17: the plan carries the caution, word for word."""
    if case.plan.caution != CAUTION:
        yield Violation(rule="S17", message="The plan does not carry the caution.")


def _twice(case: Case) -> Iterator[Violation]:
    for what, ids in (
        ("loads", [load.id for load in case.plan.loads]),
        ("tasks", [task.id for task in case.plan.tasks]),
    ):
        for one, count in Counter(ids).items():
            if count > 1:
                yield Violation(rule="count", message=f"{count} {what} have the id {one!r}.")
    for load in case.plan.loads:
        for batch_id, count in Counter(portion.batch_id for portion in load.portions).items():
            if count > 1:
                yield Violation(
                    rule="count",
                    message=f"Load {load.id} lists batch {batch_id} {count} times.",
                    load_id=load.id,
                )


def _left_out(case: Case) -> Iterator[Violation]:
    for left in case.plan.left_out:
        if left.batch_id not in case.batches:
            yield Violation(
                rule="count", message=f"Jars of batch {left.batch_id!r} are left out; there is no such batch."
            )
        if left.jars < 1:
            yield Violation(rule="count", message=f"{left.jars} jars of batch {left.batch_id} are left out.")
        if not left.reason:
            yield Violation(
                rule="count", message=f"Jars of batch {left.batch_id} are left out without a reason."
            )


def _totals(case: Case) -> Iterator[Violation]:
    placed: Counter[str] = Counter()
    for load in case.plan.loads:
        for portion in load.portions:
            placed[portion.batch_id] += portion.jars
    left: Counter[str] = Counter()
    for one in case.plan.left_out:
        left[one.batch_id] += one.jars
    for batch in case.day.batches:
        if placed[batch.id] + left[batch.id] != batch.jars:
            yield Violation(
                rule="count",
                message=f"Batch {batch.id} has {batch.jars} jars; {placed[batch.id]} are placed and "
                f"{left[batch.id]} left out.",
            )
