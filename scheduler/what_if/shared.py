"""What every change needs: finding and replacing a batch, ids that are free, edits in few words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import count

from scheduler.day_writing import toml_value
from scheduler.problem import Batch, Day
from scheduler.wall_clock import WallClock, wall_clock
from scheduler.what_if.edits import Deed, Edit


def batch_of(day: Day, batch_id: str) -> Batch:
    """The batch with this id; ``KeyError`` when the day has none."""
    for batch in day.batches:
        if batch.id == batch_id:
            return batch
    raise KeyError(batch_id)


def with_batch(day: Day, changed: Batch) -> Day:
    """The day with this batch in the place of the one with its id."""
    return replace(day, batches=tuple(changed if one.id == changed.id else one for one in day.batches))


def clock_of(day: Day) -> WallClock:
    """The kitchen's clock on the day."""
    return wall_clock(day.date, day.time_zone)


def free_id(stem: str, taken: Iterable[str]) -> str:
    """``stem-1``, or the first number that nothing is called yet."""
    known = set(taken)
    return next(name for number in count(1) if (name := f"{stem}-{number}") not in known)


def batch_edit(batch_id: str, **values: object) -> Edit:
    """Values to write for a batch."""
    return Edit(table="batch", entries=(batch_id,), values=_written(values))


def added(table: str, **values: object) -> Edit:
    """An entry to add."""
    return Edit(table=table, values=_written(values), deed=Deed.ADD)


def _written(values: dict[str, object]) -> tuple[tuple[str, str], ...]:
    return tuple((key, toml_value(value)) for key, value in values.items())
