"""How a line comes into the process record: one after the other, never over one that was not seen."""

from __future__ import annotations

from datetime import datetime

from kitchen.audit.actions import record, snapshot
from kitchen.errors import AlreadyDecided, AlreadyRecorded, OutOfOrder, RecordMovedOn
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import line_after
from kitchen.floor.rules import Tap
from kitchen.members.models import User
from kitchen.planning.loads import note_reviewed
from kitchen.planning.models import Load, LoadState

_FACTS = ("kind", "at", "reading_psi", "initial_temp_f", "taken_by")


def check_seen(load: Load, kind: EventKind, seen: int | None) -> None:
    """Refuse a press for a record that has gone on since the press was shown."""
    written = None if seen is None else line_after(load, seen, kind)
    if written is None:
        return
    zone = load.harvest_day.kitchen.zone
    told = f"“{written.get_kind_display()}” at {written.at.astimezone(zone):%H:%M} by {written.recorded_by}"
    if written.kind == kind and written.corrects_id is None:
        raise AlreadyRecorded(f"Recorded already: {told}.", remedy="Nothing was written a second time.")
    raise RecordMovedOn(
        f"Meanwhile the record went on: {told}. “{kind.label}” was not recorded.",
        remedy="Look at what comes next, then tap again.",
    )


def check_correction(load: Load, kind: EventKind, corrects: RunEvent | None) -> None:
    """Refuse to correct another load's line, one corrected before, by another kind, or once the jars are counted."""
    if corrects is None:
        return
    if corrects.load_id != load.pk:
        raise OutOfOrder("That line belongs to another load.", remedy="Correct it on its own run sheet.")
    if RunEvent.objects.filter(corrects=corrects).exists() or corrects.withdraws:
        raise AlreadyDecided("That line was corrected before.", remedy="Correct the newest line.")
    if corrects.kind != kind:
        raise OutOfOrder(
            "A correction changes when a step happened, not which step it was.",
            remedy="Take the line back, then record the right step.",
        )
    if load.state == LoadState.CLOSED:
        raise AlreadyDecided(
            "The jars of this load are counted; its record is closed.", remedy="Speak to the kitchen's lead."
        )


def write_line(
    load: Load,
    tap: Tap,
    actor: User,
    now: datetime,
    *,
    note: str = "",
    corrects: RunEvent | None = None,
    withdraws: bool = False,
    taken_by: User | None = None,
) -> RunEvent:
    """Append one line, with its line in the audit. The caller holds the load and has checked everything."""
    event = RunEvent.objects.create(
        load=load,
        kind=tap.kind,
        at=tap.at,
        reading_psi=tap.reading_psi,
        initial_temp_f=tap.initial_temp_f,
        taken_by=taken_by,
        recorded_at=now,
        recorded_by=actor,
        note=note,
        corrects=corrects,
        withdraws=withdraws,
    )
    note_reviewed(load, reviewed=False)
    record(
        actor=actor,
        kitchen=load.harvest_day.kitchen,
        action="withdraw_event" if withdraws else "record_event",
        subject=event,
        before=snapshot(corrects, *_FACTS) if corrects else None,
        after=snapshot(event, "load", *_FACTS, "note", "corrects"),
    )
    return event
