"""A plan as calendar entries: each load from its fill to its last jar out, its first call and its seal check.

The first call, 12 hours after the jars came out, matters most: a reprocess must start within 24 hours of the end of
the process (rule S11), which is a little before the seal check at 24 hours.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from scheduler.agenda import Entry, entry_uid, when
from scheduler.chart_rows import PHASE_WORDS, load_words
from scheduler.interval import Span
from scheduler.plan import Load, Plan, TaskKind
from scheduler.problem import Day
from scheduler.wall_clock import wall_clock

# Made once, at random, so that these ids meet no others. Never change it: calendars would show every load twice.
_NAMESPACE = UUID("5f0c6f2e-9d1b-4c53-9a52-3b0a6c1d7e84")
# How long an entry for a seal check lasts. Common practice, no source; it only has to be seen.
_SEAL_CHECK_MINUTES = 15


def plan_entries(day: Day, plan: Plan, last_modified: datetime) -> tuple[Entry, ...]:
    """The entries in the order of their start. The same day and load always get the same uid.

    ``last_modified`` is when the plan was made, as an aware time.
    """
    book = _Book(day, plan, last_modified)
    found = [entry for load in plan.loads for entry in book.entries(load)]
    return tuple(sorted(found, key=lambda entry: (entry.start, entry.uid)))


class _Book:
    """Writes the entries of one plan."""

    def __init__(self, day: Day, plan: Plan, last_modified: datetime) -> None:
        self._day = day
        self._plan = plan
        self._last_modified = last_modified
        self._clock = wall_clock(day.date, day.time_zone)
        self._canners = {canner.id: canner.name for canner in day.canners}
        self._members = {batch.id: batch.member for batch in day.batches}

    def entries(self, load: Load) -> Iterator[Entry]:
        name = f"{self._canners[load.canner_id]}, load {load.number}"
        what = load_words(self._day, load)
        fills = [
            task.start for task in self._plan.tasks if task.load_id == load.id and task.kind is TaskKind.FILL
        ]
        run = Span(min([*fills, load.phases[0].start]), load.jars_out)
        yield self._entry("load", load, run, f"{name}: {what}", self._phases(load))
        for kind, title, minute in (
            ("first-call", "First call, seal check", load.first_call),
            ("seal-check", "Last call, seal check", load.seal_check),
        ):
            span = Span(minute, minute + _SEAL_CHECK_MINUTES)
            yield self._entry(kind, load, span, f"{title}: {what} ({name})", self._seal_check(load, span))

    def _entry(self, kind: str, load: Load, span: Span, summary: str, said: Iterable[str]) -> Entry:
        members = dict.fromkeys(self._members[portion.batch_id] for portion in load.portions)
        lines = [*said, f"For: {', '.join(members)}", self._plan.caution]
        return Entry(
            uid=entry_uid(kind, uuid5(_NAMESPACE, f"{self._plan.day_digest}/{load.id}")),
            start=self._moment(span.start),
            end=self._moment(span.end),
            summary=summary,
            description="\n".join(lines),
            location=self._day.kitchen,
            sequence=0,
            last_modified=self._last_modified,
        )

    def _phases(self, load: Load) -> Iterator[str]:
        for phase in load.phases:
            yield f"{self._clock.span_words(phase.start, phase.end)} {PHASE_WORDS[phase.kind]}"

    def _seal_check(self, load: Load, span: Span) -> Iterator[str]:
        deadline = self._clock.words(load.reprocess_by)
        times = when(self._moment(span.start), self._moment(span.end), self._clock.zone)
        yield f"Look, press and tap each lid: {times}."
        yield f"A jar that did not seal: a reprocess must start by {deadline}; after that refrigerate and eat it."

    def _moment(self, minute: int) -> datetime:
        return self._day.origin + timedelta(minutes=minute)
