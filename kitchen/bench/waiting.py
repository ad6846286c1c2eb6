"""Reminders that wait for their time, by the thousand, with the loads and jars that they are about."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from kitchen.bench.jars import COOLING, a_batch, a_load, a_portion
from kitchen.bench.sites import Site, write
from kitchen.planning.models import DayState, HarvestDay, LoadPortion
from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.rules import DUE_AFTER, REPROCESS_WITHIN

_IN_A_LOAD = 10


def write_waiting(site: Site, due: Sequence[datetime]) -> list[Reminder]:
    """Reminders to check seals that are due at these times, each of jars of its own; a day of the kitchen that was.

    To be called once for a site: the day is the one before the first of the jars came out.
    """
    first_out = min(due) - DUE_AFTER[Kind.SEAL_CHECK]
    day = HarvestDay.objects.create(
        kitchen=site.kitchen,
        date=(first_out - timedelta(days=1)).date(),
        opens_at=first_out - timedelta(hours=10),
        closes_at=max(due),
        state=DayState.PUBLISHED,
    )
    batches = write(a_batch(site, day, number) for number in range(_IN_A_LOAD))
    loads = write(a_load(site, day, number, out_at=first_out) for number in range(-(-len(due) // _IN_A_LOAD)))
    portions = write(
        a_portion(loads[number // _IN_A_LOAD], batches[number % _IN_A_LOAD]) for number in range(len(due))
    )
    return write(
        _reminder(site, portion, at, number)
        for number, (portion, at) in enumerate(zip(portions, due, strict=True))
    )


def _reminder(site: Site, portion: LoadPortion, at: datetime, number: int) -> Reminder:
    out_at = at - DUE_AFTER[Kind.SEAL_CHECK]
    return Reminder(
        kitchen=site.kitchen,
        portion=portion,
        recipient=site.members[number % len(site.members)],
        kind=Kind.SEAL_CHECK,
        jars_out_at=out_at,
        reprocess_by=out_at - COOLING + REPROCESS_WITHIN,
        due_at=at,
        next_attempt_at=at,
    )
