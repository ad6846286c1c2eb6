"""A batch of green beans and the load that it is in, as rows that are not written yet."""

from __future__ import annotations

from datetime import datetime, timedelta

from kitchen.batches.models import Batch, BatchState, Jar, Pack, Unit
from kitchen.bench.sites import Site
from kitchen.planning.models import HarvestDay, Load, LoadPortion, LoadState

FOOD = "snap_beans"
JARS = 7
COOLING = timedelta(hours=1)
"""From heat off to jars out."""


def a_batch(site: Site, day: HarvestDay, number: int, state: BatchState = BatchState.PLANNED) -> Batch:
    """A canner full of quarts, brought by one of the members in turn."""
    return Batch(
        kitchen=site.kitchen,
        member=site.members[number % len(site.members)],
        harvest_day=day,
        food_id=FOOD,
        food_name="Green beans",
        pack=Pack.RAW,
        jar=Jar.QUART,
        amount=JARS,
        unit=Unit.JARS,
        jars_low=JARS,
        jars_high=JARS,
        jars=JARS,
        arrives_at=day.opens_at,
        picks_up_at=day.closes_at,
        state=state,
    )


def a_load(site: Site, day: HarvestDay, number: int, *, out_at: datetime | None = None) -> Load:
    """A load on one of the pressure canners in turn; its jars are out already where ``out_at`` is given."""
    load = Load(
        harvest_day=day,
        canner=site.canners[number % len(site.canners)],
        number=number // len(site.canners) + 1,
        lot_code=f"{site.kitchen.site_code}-BEASNA-{number}",
        method="pressure",
        pressure_psi=15,
        process_minutes=25,
    )
    if out_at is not None:
        load.state, load.process_ended_at, load.jars_out_at = LoadState.OUT, out_at - COOLING, out_at
    return load


def a_portion(load: Load, batch: Batch) -> LoadPortion:
    """The batch's jars in the load."""
    return LoadPortion(load=load, batch=batch, jars=JARS, process_key="made up", headspace_in=1)
