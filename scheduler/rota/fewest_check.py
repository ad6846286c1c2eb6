"""A second look at who takes which seat, which shares nothing with the search for fewest people."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from scheduler.rota.question import Question, Taken


def faults_of(question: Question, taken: Taken, people: int) -> Iterator[str]:
    """What is wrong with an answer that says so many ``people`` are enough; nothing when it is right."""
    if len(taken) != len(question.seats):
        yield f"{len(taken)} seats are answered for, of {len(question.seats)}"
        return
    busy: dict[int, list[tuple[int, int, str]]] = {}
    for seat, person in zip(question.seats, taken, strict=True):
        if person is None:
            yield f"nobody takes {seat.id}"
        elif person not in seat.able:
            yield f"{seat.id} is taken by {person}, who may not"
        else:
            busy.setdefault(person, []).append((seat.start, seat.end, seat.id))
    for person, spans in busy.items():
        spans.sort()
        for (_, end, one), (start, _, other) in pairwise(spans):
            if start < end:
                yield f"{person} takes {one} and {other} at the same time"
    used = len({person for person in taken if person is not None})
    if used != people:
        yield f"{used} people are used, not {people}"
