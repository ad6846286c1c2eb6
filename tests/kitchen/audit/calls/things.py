"""Calls of what is done to equipment and to what is brought."""

from __future__ import annotations

from decimal import Decimal

from kitchen.batches.actions import cancel_batch, change_batch, declare_batch, receive_batch, set_batch_state
from kitchen.batches.bringing import bring_table
from kitchen.batches.models import BatchState
from kitchen.equipment.actions import (
    add_burner,
    add_canner,
    add_cooling_table,
    add_kettle,
    change_burner,
    change_canner,
    change_cooling_table,
    change_kettle,
    record_gauge_check,
    return_to_service,
    take_out_of_service,
)
from kitchen.equipment.models import CoolingTable, Kettle
from tests.factories.sites import DAY, Site, declare, make_open_day
from tests.kitchen.audit.calls.leaving import Deed, leaves


@leaves("equipment.actions.add_burner", "add_burner")
def _(site: Site) -> Deed:
    return lambda: add_burner(kitchen=site.kitchen, name="New", power_w=3000, efficiency=0.5, actor=site.lead)


@leaves("equipment.actions.add_kettle", "add_kettle")
def _(site: Site) -> Deed:
    return lambda: add_kettle(kitchen=site.kitchen, name="New", volume_qt=12, actor=site.lead)


@leaves("equipment.actions.add_cooling_table", "add_coolingtable")
def _(site: Site) -> Deed:
    return lambda: add_cooling_table(kitchen=site.kitchen, name="New", area_sq_in=900, actor=site.lead)


@leaves("equipment.actions.change_burner", "change_burner")
def _(site: Site) -> Deed:
    burner = site.weighted.burner
    return lambda: change_burner(burner=burner, name="Other", power_w=3000, efficiency=0.5, actor=site.lead)


@leaves("equipment.actions.change_kettle", "change_kettle")
def _(site: Site) -> Deed:
    kettle = Kettle.objects.filter(kitchen=site.kitchen)[0]
    return lambda: change_kettle(kettle=kettle, name="Other", volume_qt=12, actor=site.lead)


@leaves("equipment.actions.change_cooling_table", "change_coolingtable")
def _(site: Site) -> Deed:
    table = CoolingTable.objects.get(kitchen=site.kitchen)
    return lambda: change_cooling_table(table=table, name="Other", area_sq_in=900, actor=site.lead)


@leaves("equipment.actions.add_canner", "add_canner")
def _(site: Site) -> Deed:
    return lambda: add_canner(
        kitchen=site.kitchen,
        burner=site.dial.burner,
        actor=site.lead,
        code="S2",
        name="Second",
        kind="steam",
        inside_diameter_in=12.5,
        inside_depth_in=9.0,
    )


@leaves("equipment.actions.change_canner", "change_canner")
def _(site: Site) -> Deed:
    return lambda: change_canner(canner=site.weighted, changes={"name": "Other"}, actor=site.lead)


@leaves("equipment.actions.record_gauge_check", "record_gauge_check")
def _(site: Site) -> Deed:
    return lambda: record_gauge_check(
        canner=site.dial,
        checked_on=DAY,
        error_psi=Decimal("0.5"),
        checked_by="Office",
        actor=site.lead,
        now=site.at(12),
    )


@leaves("equipment.actions.take_out_of_service", "take_out_of_service")
def _(site: Site) -> Deed:
    return lambda: take_out_of_service(canner=site.weighted, reason="Its gasket leaks.", actor=site.lead)


@leaves("equipment.actions.return_to_service", "return_to_service")
def _(site: Site) -> Deed:
    take_out_of_service(canner=site.weighted, reason="Its gasket leaks.", actor=site.lead)
    return lambda: return_to_service(canner=site.weighted, actor=site.lead)


@leaves("batches.actions.declare_batch", "declare_batch")
def _(site: Site) -> Deed:
    day = make_open_day(site)
    return lambda: declare_batch(
        kitchen=site.kitchen,
        member=site.member,
        food="snap_beans",
        pack="raw",
        jar="quart",
        amount=Decimal(7),
        unit="jars",
        arrives_at=day.opens_at,
        picks_up_at=day.closes_at,
        harvest_day_id=day.pk,
        actor=site.member,
    )


@leaves("batches.actions.receive_batch", "receive_batch")
def _(site: Site) -> Deed:
    batch = declare(site, make_open_day(site))
    return lambda: receive_batch(batch=batch, actor=site.operator)


@leaves("batches.actions.change_batch", "change_batch")
def _(site: Site) -> Deed:
    batch = declare(site, make_open_day(site))
    return lambda: change_batch(batch=batch, jars=6, actor=site.lead)


@leaves("batches.actions.cancel_batch", "batch_cancelled")
def _(site: Site) -> Deed:
    batch = declare(site, make_open_day(site))
    return lambda: cancel_batch(batch=batch, actor=site.lead)


@leaves("batches.actions.set_batch_state", "batch_arrived")
def _(site: Site) -> Deed:
    batch = declare(site, make_open_day(site))
    return lambda: set_batch_state(batch=batch, state=BatchState.ARRIVED, actor=site.lead)


TABLE = (
    "food,amount,unit,jar,pack,arrives,picks_up,member\n"
    "snap_beans,9,jars,pint,raw,,,\n"
    "snap_beans,7,jars,quart,raw,,,\n"
)


@leaves(
    "batches.bringing.bring_table", "declare_batch", "declare_batch", why="One for each row of the table."
)
def _(site: Site) -> Deed:
    day = make_open_day(site)
    return lambda: bring_table(kitchen=site.kitchen, harvest_day_id=day.pk, text=TABLE, actor=site.lead)
