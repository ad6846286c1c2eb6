"""A day's process records as a table in CSV, which a person can keep in a spreadsheet: load, what happened, when.

Loads of which nothing is said ran as planned.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from scheduler.errors import BadDay, SchedulerError
from scheduler.floor import Floor, Lost
from scheduler.floor_record import LINES, Record, as_planned, floor_of, lost_load, record_of
from scheduler.plan import Load, Plan
from scheduler.problem import Day
from scheduler.wall_clock import WallClock, wall_clock

COLUMNS = ("load", "what", "at", "note")
"""The load's id in the plan, what happened, the time on the kitchen's wall, and for what is no tap the reason."""

HELD, DECIDED, NOT_BEGUN, FAILED = "held", "decided", "not_begun", "canner_failed"
"""What is no tap: the jars are on hold (rule S16), a lead has decided about them, the load has not begun though the
plan had it so, its canner failed before the process ended. Only these need no time."""

_NO_TAPS = (HELD, DECIDED, NOT_BEGUN, FAILED)
# A typing guard, not a figure of the trade.
MOST_LETTERS = 1_000_000


class BadFloorFile(SchedulerError):
    """The file holds no process records; the message names the line."""

    code = "bad-floor-file"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    number: int
    load: str
    what: str
    minute: int | None
    note: str


def read_floor(text: str, day: Day, before: Plan, now: str) -> Floor:
    """The floor at a time of the kitchen's clock, after a plan and the records of its loads.

    ``BadFloorFile`` names the first line that is wrong, ``BadDay`` a time that is none.
    """
    clock = wall_clock(day.date, day.time_zone)
    minute = _minute(clock, day, now)
    lines = list(_lines(text, clock, day, before))
    records = dict(as_planned(before, minute))
    lost: list[Lost] = []
    canners = {canner.id: canner for canner in day.canners}
    for load_id, own in _by_load(lines).items():
        load = before.load(load_id)
        said = {line.what: line.note for line in own}
        if NOT_BEGUN in said:
            records.pop(load_id, None)
        elif FAILED in said:
            records.pop(load_id, None)
            reason = (
                f"{canners[load.canner_id].name} failed before the process ended: {said[FAILED].rstrip('.')}."
            )
            lost.append(lost_load(before, load_id, reason, is_fill_known=False))
        else:
            taps = [line for line in own if line.minute is not None]
            records[load_id] = _record(day, load, taps, records.get(load_id), said)
    return floor_of(day, before, minute, records, lost)


def _record(
    day: Day, load: Load, taps: list[_Line], planned: Record | None, said: Mapping[str, str]
) -> Record:
    canner = next(canner for canner in day.canners if canner.id == load.canner_id)
    found = planned or Record()
    if taps:
        lines = sorted((line.minute or 0, line.number, line.what) for line in taps)
        found = record_of(((what, at) for at, _, what in lines), under_pressure=canner.kind.is_pressure)
    return replace(
        found,
        is_assumed=found.is_assumed and not said,
        deviation=said.get(HELD) or said.get(DECIDED),
        on_hold=HELD in said and DECIDED not in said,
        settled=DECIDED in said,
    )


def _by_load(lines: list[_Line]) -> dict[str, list[_Line]]:
    found: dict[str, list[_Line]] = {}
    for line in lines:
        found.setdefault(line.load, []).append(line)
    return found


def _lines(text: str, clock: WallClock, day: Day, before: Plan) -> Iterator[_Line]:
    if len(text) > MOST_LETTERS:
        raise _refused(1, "The file is too long.", f"Keep it under {MOST_LETTERS:,} letters.")
    rows = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    try:
        missing = [name for name in COLUMNS[:3] if name not in (rows.fieldnames or ())]
        if missing:
            raise _refused(
                1, f"There is no column {missing[0]}.", f"Begin with the line {','.join(COLUMNS)}."
            )
        known = {load.id for load in before.loads}
        for row in rows:
            yield _line(row, rows.line_num, known, clock, day)
    except csv.Error as error:
        raise _refused(
            rows.line_num, f"This is no CSV: {error}.", "Save it as comma-separated text."
        ) from None


def _line(row: Mapping[str, str | None], number: int, known: set[str], clock: WallClock, day: Day) -> _Line:
    load, what, at, note = ((row.get(name) or "").strip() for name in COLUMNS)
    if load not in known:
        raise _refused(
            number, f"The plan has no load {load!r}.", f"Choose one of {', '.join(sorted(known))}."
        )
    if what not in (*LINES, *_NO_TAPS):
        raise _refused(
            number,
            f"{what!r} is nothing that happens to a load.",
            f"Choose one of {', '.join((*LINES, *_NO_TAPS))}.",
        )
    if what in (HELD, DECIDED, FAILED) and not note:
        raise _refused(number, f"{what} has no note.", "Write the reason into the column note.")
    if what in _NO_TAPS:
        return _Line(number=number, load=load, what=what, minute=None, note=note)
    try:
        return _Line(number=number, load=load, what=what, minute=_minute(clock, day, at), note=note)
    except BadDay as refusal:
        raise _refused(number, refusal.message, refusal.remedy) from refusal


def _minute(clock: WallClock, day: Day, written: str) -> int:
    """A time of the kitchen's clock in minutes since the day's origin."""
    shift = clock.minute_of(day.origin)
    return clock.minute(written) - shift


def _refused(line: int, message: str, remedy: str) -> BadFloorFile:
    return BadFloorFile(f"Line {line}: {message}", remedy=remedy)
