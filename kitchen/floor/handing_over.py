"""The watch at a canner changes hands."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.errors import AlreadyDecided
from kitchen.floor.lines import check_correction, check_seen, write_line
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import standing_of, whole_record
from kitchen.floor.rules import Tap, check_hand_over, check_tap_time, steps_as_taps
from kitchen.floor.running import check_may_run
from kitchen.members.models import User
from kitchen.planning.loads import locked_load
from kitchen.planning.models import Load, LoadState


@transaction.atomic
def hand_over(
    *,
    load: Load,
    to: User,
    at: datetime,
    actor: User,
    note: str = "",
    corrects: RunEvent | None = None,
    seen: int | None = None,
    now: datetime | None = None,
) -> RunEvent:
    """Write down that somebody takes over the watch at a load's canner, or correct when it was and to whom.

    Refused: a time at which the heat was not on, whoever took over last, and a person whose canner training does not
    count on the day (rule S9). ``seen`` is as for ``record_event``; here only another hand-over overtakes a press.
    """
    check_may_run(actor, load)
    now = now or timezone.now()
    load = locked_load(load.pk)
    check_seen(load, EventKind.HAND_OVER, seen)
    if load.state == LoadState.CLOSED:
        raise AlreadyDecided(
            "The jars of this load are counted; its record is closed.", remedy="Speak to the kitchen's lead."
        )
    check_correction(load, EventKind.HAND_OVER, corrects)
    check_tap_time(load, at, now)
    lines = whole_record(load)
    before = [
        line
        for line in standing_of(lines)
        if line.kind == EventKind.HAND_OVER and line.at <= at and line != corrects
    ]
    check_hand_over(load, at, steps_as_taps(lines), before[-1] if before else None, to)
    return write_line(
        load,
        Tap(kind=EventKind.HAND_OVER, at=at),
        actor,
        now,
        note=note,
        corrects=corrects,
        taken_by=to,
    )
