"""Noting what was measured."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.batches.models import Batch
from kitchen.equipment.models import Canner
from kitchen.errors import AlreadyDecided
from kitchen.learning.bridge import usual_work_minutes
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.learning.rules import check_work
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseTook:
    """A phase of a load as recorded, beside what was usual for it and the least that rule S5 allows, or 0."""

    kind: TimedKind
    usual_minutes: float
    recorded_minutes: float
    least_minutes: int = 0


@transaction.atomic
def note_load(
    *,
    load_id: int,
    canner: Canner,
    on: date,
    times: Iterable[PhaseTook],
    actor: User,
    now: datetime | None = None,
) -> None:
    """Note what a load's process record says of its phases, in the place of what was noted of it before.

    Called with every writing into the record of a load whose jars are out; nothing is noted of a load that
    teaches nothing.
    """
    before = MeasuredTime.objects.filter(load_id=load_id)
    noted = {(one.kind, one.recorded_minutes) for one in before}
    taken = list(times)
    if noted == {(one.kind.value, one.recorded_minutes) for one in taken}:
        return
    before.delete()
    MeasuredTime.objects.bulk_create(
        MeasuredTime(
            kitchen_id=canner.kitchen_id,
            kind=one.kind,
            canner=canner,
            load_id=load_id,
            on=on,
            usual_minutes=one.usual_minutes,
            recorded_minutes=one.recorded_minutes,
            least_minutes=one.least_minutes,
            recorded_by=actor,
            recorded_at=now or timezone.now(),
        )
        for one in taken
    )
    record(
        actor=actor,
        kitchen=canner.kitchen,
        action="note_load",
        subject=canner,
        before={"load": load_id, **dict(sorted(noted))},
        after={"load": load_id, **{one.kind.value: one.recorded_minutes for one in taken}},
    )


@transaction.atomic
def time_work(
    *,
    batch: Batch,
    kind: TimedKind,
    jars: int,
    hands: int,
    minutes: float,
    actor: User,
    now: datetime | None = None,
) -> MeasuredTime:
    """Note how long prep, a kettle or filling took for so many jars of a batch."""
    check_may(actor, batch.kitchen, Deed.RUN_LOAD)
    check_work(batch, kind, jars, hands, minutes)
    family, usual_minutes = usual_work_minutes(batch, kind, jars, hands)
    now = now or timezone.now()
    timed = MeasuredTime.objects.create(
        kitchen=batch.kitchen,
        kind=kind,
        batch=batch,
        family=family,
        jars=jars,
        hands=hands,
        on=now.astimezone(batch.kitchen.zone).date(),
        usual_minutes=usual_minutes,
        recorded_minutes=minutes,
        recorded_by=actor,
        recorded_at=now,
    )
    record(
        actor=actor,
        kitchen=batch.kitchen,
        action="time_work",
        subject=timed,
        after=snapshot(timed, "kind", "batch", "jars", "hands", "usual_minutes", "recorded_minutes"),
    )
    return timed


@transaction.atomic
def withdraw_work(*, timed: MeasuredTime, actor: User, now: datetime | None = None) -> MeasuredTime:
    """Say that a time was noted by mistake. The row stays; nothing is learned from it.

    Refused for a load's time: its process record is corrected instead.
    """
    check_may(actor, timed.kitchen, Deed.RUN_LOAD)
    timed = MeasuredTime.objects.select_for_update(of=("self",)).get(pk=timed.pk)
    if timed.load_id is not None:
        raise AlreadyDecided(
            "This time is read off a process record.", remedy="Correct the record on its run sheet."
        )
    if timed.withdrawn_at is not None:
        raise AlreadyDecided("This time was withdrawn before.", remedy="Nothing is left to do.")
    timed.withdrawn_at = now or timezone.now()
    timed.save(update_fields=["withdrawn_at"])
    record(
        actor=actor,
        kitchen=timed.kitchen,
        action="withdraw_work",
        subject=timed,
        before={"withdrawn_at": None},
        after=snapshot(timed, "withdrawn_at"),
    )
    return timed
