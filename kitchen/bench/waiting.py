"""Reminders that wait for their time, by the thousand, with the loads and jars that they are about."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from kitchen.batches.models import Batch, BatchState, Jar, Pack, Unit
from kitchen.bench.sites import Site, write
from kitchen.planning.models import DayState, HarvestDay, Load, LoadPortion, LoadState
from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.rules import DUE_AFTER, REPROCESS_WITHIN

_JARS = 7
_IN_A_LOAD = 10
_COOLING = timedelta(hours=1)


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
    batches = _batches(site, day)
    loads = _loads(site, day, -(-len(due) // _IN_A_LOAD), first_out)
    portions = write(
        LoadPortion(
            load=loads[number // _IN_A_LOAD],
            batch=batches[number % _IN_A_LOAD],
            jars=_JARS,
            process_key="made up",
            headspace_in=1,
        )
        for number in range(len(due))
    )
    return write(
        _reminder(site, portion, at, number)
        for number, (portion, at) in enumerate(zip(portions, due, strict=True))
    )


def _batches(site: Site, day: HarvestDay) -> list[Batch]:
    return write(
        Batch(
            kitchen=site.kitchen,
            member=site.members[number % len(site.members)],
            harvest_day=day,
            food_id="beans_snap",
            food_name="Green beans",
            pack=Pack.RAW,
            jar=Jar.QUART,
            amount=_JARS,
            unit=Unit.JARS,
            jars_low=_JARS,
            jars_high=_JARS,
            jars=_JARS,
            arrives_at=day.opens_at,
            picks_up_at=day.closes_at,
            state=BatchState.PLANNED,
        )
        for number in range(_IN_A_LOAD)
    )


def _loads(site: Site, day: HarvestDay, many: int, out_at: datetime) -> list[Load]:
    return write(
        Load(
            harvest_day=day,
            canner=site.canners[number % len(site.canners)],
            number=number // len(site.canners) + 1,
            lot_code=f"{site.kitchen.site_code}-BEASNA-{number}",
            method="pressure",
            pressure_psi=15,
            process_minutes=25,
            state=LoadState.OUT,
            process_ended_at=out_at - _COOLING,
            jars_out_at=out_at,
        )
        for number in range(many)
    )


def _reminder(site: Site, portion: LoadPortion, at: datetime, number: int) -> Reminder:
    out_at = at - DUE_AFTER[Kind.SEAL_CHECK]
    return Reminder(
        kitchen=site.kitchen,
        portion=portion,
        recipient=site.members[number % len(site.members)],
        kind=Kind.SEAL_CHECK,
        jars_out_at=out_at,
        reprocess_by=out_at - _COOLING + REPROCESS_WITHIN,
        due_at=at,
        next_attempt_at=at,
    )
