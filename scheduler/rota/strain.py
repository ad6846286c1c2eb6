"""What is too much for one person: no rest for too long, too long a day, too short a night, too far to walk.

The rules of a rota that concern one person's work alone. The judge has its own reading of them in ``rules.rota``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from scheduler.rota.question import Limits


@dataclass(frozen=True, slots=True, order=True)
class Work:
    """A person at a place from a minute to another. ``held``: not to be left for a rest, as a watch (rule S9)."""

    start: int
    end: int
    place: str
    held: bool = False


def faults(work: Sequence[Work], limits: Limits, most_minutes: int | None = None) -> tuple[str, ...]:
    """What is too much in one person's work, in words without names or times of day; empty when nothing is.

    ``most_minutes`` is the person's own limit for a day, which ends with a night's rest. Two pieces at the same time
    are no fault here: a watch of two canners is one person's work. Nor is one held piece that alone is longer than
    the limit.
    """
    ordered = sorted(work)
    return tuple(
        dict.fromkeys(
            [
                *_tired(ordered, limits.break_every_minutes, limits.break_minutes),
                *_tired(ordered, limits.meal_after_minutes, limits.meal_minutes),
                *_days(ordered, limits, most_minutes),
                *_walks(ordered, limits.walking_minutes),
            ]
        )
    )


def stretches(work: Iterable[Work], rest_minutes: int) -> Iterator[tuple[int, int, bool]]:
    """Work without a rest of so many minutes in between: from, to, and whether it is one held piece from end to end."""
    yield from _stretches(sorted(work), rest_minutes)


def _stretches(ordered: Iterable[Work], rest_minutes: int) -> Iterator[tuple[int, int, bool]]:
    """The same, of work that is in order."""
    gathered: list[Work] = []
    end = 0
    for piece in ordered:
        if gathered and piece.start - end >= rest_minutes:
            yield _stretch(gathered)
            gathered = []
        end = max(end, piece.end) if gathered else piece.end
        gathered.append(piece)
    if gathered:
        yield _stretch(gathered)


def _stretch(pieces: Sequence[Work]) -> tuple[int, int, bool]:
    start, end = pieces[0].start, max(piece.end for piece in pieces)
    return start, end, any(piece.held and (piece.start, piece.end) == (start, end) for piece in pieces)


def _tired(work: Sequence[Work], every: int | None, rest_minutes: int) -> Iterator[str]:
    if every is None:
        return
    for start, end, alone in _stretches(work, rest_minutes):
        if end - start > every and not alone:
            yield f"{end - start} minutes of work without {rest_minutes} minutes of rest; the kitchen allows {every}."


def _days(work: Sequence[Work], limits: Limits, most_minutes: int | None) -> Iterator[str]:
    longest = limits.longest_shift_minutes
    for start, end, _ in _stretches(work, limits.rest_minutes or limits.day_minutes):
        if longest is not None and end - start > longest:
            yield (
                f"{end - start} minutes from the first work to the last without {limits.rest_minutes} minutes of rest; "
                f"the kitchen allows {longest}."
            )
        if most_minutes is None:
            continue
        worked = busy_minutes(piece for piece in work if start <= piece.start < end)
        if worked > most_minutes:
            yield f"{worked} minutes of work in a day, where {most_minutes} were said to be the most."


def busy_minutes(work: Iterable[Work]) -> int:
    """The minutes in which there is anything to do."""
    return sum(end - start for start, end, _ in stretches(work, 1))


def _walks(work: Sequence[Work], walking_minutes: int) -> Iterator[str]:
    for before, after in zip(_last_to_end(work), work[1:], strict=False):
        if before.place != after.place and before.end <= after.start < before.end + walking_minutes:
            gap = after.start - before.end
            yield f"{gap} minutes to walk from {before.place} to {after.place}; it takes {walking_minutes}."


def _last_to_end(work: Sequence[Work]) -> Iterator[Work]:
    """For each piece, of it and all before it the one that ends last: of two watches at once the longer."""
    return accumulate(work, lambda last, piece: piece if piece.end > last.end else last)
