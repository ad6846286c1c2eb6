"""A plan as calendar entries: each load from its fill to its last jar out, its first call and its seal check.

The first call, 12 hours after the jars came out, matters most: a reprocess must start within 24 hours of the end of
the process (rule S11), which is a little before the seal check at 24 hours.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from scheduler.agenda import Entry, entry_uid, when
from scheduler.chart_rows import PHASE_WORDS, load_words
from scheduler.plan import Load, Plan, TaskKind
from scheduler.problem import Day
from scheduler.wall_clock import WallClock, wall_clock

# Made once, at random, so that these ids meet no others. Never change it: calendars would show every load twice.
_NAMESPACE = UUID("5f0c6f2e-9d1b-4c53-9a52-3b0a6c1d7e84")
# How long an entry for a seal check lasts. Common practice, no source; it only has to be seen.
_SEAL_CHECK_MINUTES = 15


def plan_entries(day: Day, plan: Plan, last_modified: datetime) -> tuple[Entry, ...]:
    """The entries in the order of their start. The same day and load always get the same uid.

    ``last_modified`` is when the plan was made, as an aware time.
    """
    clock = wall_clock(day.date, day.time_zone)
    found = [entry for load in plan.loads for entry in _of_load(day, plan, load, clock, last_modified)]
    return tuple(sorted(found, key=lambda entry: (entry.start, entry.uid)))


def _of_load(day: Day, plan: Plan, load: Load, clock: WallClock, last_modified: datetime) -> Iterator[Entry]:
    canner = next(canner.name for canner in day.canners if canner.id == load.canner_id)
    what = load_words(day, load)
    start = min(
        (task.start for task in plan.tasks if task.load_id == load.id and task.kind is TaskKind.FILL),
        default=load.phases[0].start,
    )
    yield Entry(
        uid=_uid("load", plan, load),
        start=_moment(day, start),
        end=_moment(day, load.jars_out),
        summary=f"{canner}, load {load.number}: {what}",
        description="\n".join([*_phases(load, clock), _members(day, load), plan.caution]),
        location=day.kitchen,
        sequence=0,
        last_modified=last_modified,
    )
    for kind, name, minute in (
        ("first-call", "First call, seal check", load.first_call),
        ("seal-check", "Last call, seal check", load.seal_check),
    ):
        start_check = _moment(day, minute)
        end_check = start_check + timedelta(minutes=_SEAL_CHECK_MINUTES)
        yield Entry(
            uid=_uid(kind, plan, load),
            start=start_check,
            end=end_check,
            summary=f"{name}: {what} ({canner}, load {load.number})",
            description="\n".join(
                [
                    f"Look, press and tap each lid: {when(start_check, end_check, clock.zone)}.",
                    f"A jar that did not seal: a reprocess must start by {clock.words(load.reprocess_by)}; "
                    "after that refrigerate and eat it.",
                    _members(day, load),
                    plan.caution,
                ]
            ),
            location=day.kitchen,
            sequence=0,
            last_modified=last_modified,
        )


def _phases(load: Load, clock: WallClock) -> Iterator[str]:
    for phase in load.phases:
        yield f"{clock.span_words(phase.start, phase.end)} {PHASE_WORDS[phase.kind]}"


def _members(day: Day, load: Load) -> str:
    members = {batch.id: batch.member for batch in day.batches}
    return "For: " + ", ".join(dict.fromkeys(members[portion.batch_id] for portion in load.portions))


def _uid(kind: str, plan: Plan, load: Load) -> str:
    return entry_uid(kind, uuid5(_NAMESPACE, f"{plan.day_digest}/{load.id}"))


def _moment(day: Day, minute: int) -> datetime:
    return day.origin + timedelta(minutes=minute)
