"""What the lines of a record say of how long each part of the run took."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from kitchen.floor.models import EventKind, RunEvent

_LOST = (EventKind.PRESSURE_LOST, EventKind.BOIL_LOST)
_REACHED = (EventKind.AT_PRESSURE, EventKind.FULL_BOIL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """What the lines that stand say of the run, each None where a line is missing.

    ``come_up`` runs from heat on until pressure or boil was first reached, ``process`` from when it was last reached
    until heat off. ``restarts`` counts how often the clock began anew (rule S6).
    """

    come_up: timedelta | None
    vent: timedelta | None
    process: timedelta | None
    cool_down: timedelta | None
    rest: timedelta | None
    restarts: int


def corrections_in(lines: Iterable[RunEvent]) -> dict[int, RunEvent]:
    """Which line corrected or took back which, by the key of the line that it concerns."""
    return {one.corrects_id: one for one in lines if one.corrects_id is not None}


def times_in(lines: Iterable[RunEvent]) -> Times:
    """The lengths that the lines say which stand."""
    written = list(lines)
    corrected = corrections_in(written)
    standing = sorted(
        (one for one in written if not one.withdraws and one.pk not in corrected),
        key=lambda one: (one.at, one.pk),
    )
    first: dict[str, datetime] = {}
    last: dict[str, datetime] = {}
    for one in standing:
        first.setdefault(one.kind, one.at)
        last[one.kind] = one.at
    reached_first = min((first[kind] for kind in _REACHED if kind in first), default=None)
    reached_last = max((last[kind] for kind in _REACHED if kind in last), default=None)
    off = last.get(EventKind.HEAT_OFF)
    zero = last.get(EventKind.ZERO_PRESSURE)
    return Times(
        come_up=_between(first.get(EventKind.LOADED), reached_first),
        vent=_between(last.get(EventKind.STEADY_STEAM), last.get(EventKind.WEIGHT_ON)),
        process=_between(reached_last, off),
        cool_down=_between(off, zero),
        rest=_between(zero or off, last.get(EventKind.LID_OFF)),
        restarts=sum(one.kind in _LOST for one in standing),
    )


def _between(start: datetime | None, end: datetime | None) -> timedelta | None:
    return None if start is None or end is None or end < start else end - start
