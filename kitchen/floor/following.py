"""How loads that were run follow what is found out later: a dial gauge that reads high (rule S8)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.urls import reverse

from kitchen.equipment.models import GaugeCheck
from kitchen.equipment.queries import check_before
from kitchen.equipment.signals import gauge_checked
from kitchen.floor.queries import lines_of, loads_run_on
from kitchen.floor.rules import run_low, steps_as_taps
from kitchen.members.models import User
from kitchen.members.queries import leads_of
from kitchen.planning.loads import hold_load
from kitchen.planning.models import Load
from kitchen.reminders.actions import tell
from kitchen.reminders.models import Kind


def follow() -> None:
    """Listen to the equipment; what is heard runs in the transaction of the change."""
    gauge_checked.connect(_after_gauge_check, dispatch_uid="floor")


def _after_gauge_check(sender: type, *, check: GaugeCheck, actor: User, at: datetime, **_: object) -> None:
    """Hold what was run on a gauge that is found to read high since it was last found good, and tell the leads.

    Nobody knows since when it was wrong, so every load since the check before counts (rules S8 and S16). A load of
    which the heat is still on is looked at by its own presses.
    """
    del sender
    before = check_before(check)
    loads = loads_run_on(check.canner_id, None if before is None else before.checked_on, check.checked_on)
    lines = lines_of(loads)
    found = []
    for load in loads:
        told = run_low(load, steps_as_taps(lines[load.pk]), check)
        if told:
            hold_load(load=load, deviations=[told], actor=actor)
            found.append(load)
    if found:
        _tell_leads(check, found, at)


def _tell_leads(check: GaugeCheck, loads: Iterable[Load], at: datetime) -> None:
    """Whoever recorded the check is told too: the page they pressed on says nothing of loads."""
    kitchen = check.canner.kitchen
    lines = [
        f"Load {load.lot_code} of {load.harvest_day.date:%-d %B %Y} is on hold: the gauge may have read high then."
        for load in loads
    ]
    lines.append(
        "Decide about each (rule S16). Ask whoever took jars home not to eat from them before you have decided."
    )
    tell(
        kitchen=kitchen,
        to=[one.user for one in leads_of(kitchen)],
        title=f"{check.canner} reads {check.error_psi:+} lb: loads run on it since its last check are on hold",
        lines=lines,
        path=reverse("labels:whole-shelf", args=[kitchen.slug]),
        at=at,
        kind=Kind.SAFETY,
    )
