"""Looking once more, as the heat goes on and until it is off, at what the plan took for granted: rules S1, S8, S9."""

from __future__ import annotations

from datetime import datetime

from kitchen.equipment.bridge import target_reading, why_out_of_service
from kitchen.equipment.models import CannerKind
from kitchen.floor.bridge import why_not_published
from kitchen.floor.models import EventKind
from kitchen.floor.rules import Tap
from kitchen.members.models import User
from kitchen.members.queries import ids_that_may_watch
from kitchen.planning.loads import correct_reading, hold_load
from kitchen.planning.models import Load
from kitchen.rota.queries import watches_of


def look_at_canner(load: Load, at: datetime, actor: User) -> None:
    """Rule S8 once more, as the heat goes on: the canner may have been withdrawn or its gauge checked since."""
    on = at.astimezone(load.harvest_day.kitchen.zone).date()
    reason = why_out_of_service(load.canner, on)
    if reason:
        told = f"Loaded while the canner was out of service (rule S8): {reason}"
        hold_load(load=load, deviations=[told], actor=actor)
    elif load.canner.kind == CannerKind.DIAL and load.pressure_psi is not None:
        reading = target_reading(load.canner, on, load.pressure_psi)
        if reading != load.target_reading_psi:
            correct_reading(load=load, target_reading_psi=reading, actor=actor)


def look_at_gauge(load: Load, tap: Tap, actor: User) -> None:
    """Rule S8 while the load runs: its gauge may have been checked since the heat went on, and found to read high.

    What it must show is only ever raised then. Whoever kept it by the lower figure may have run too low.
    """
    if load.canner.kind != CannerKind.DIAL or load.pressure_psi is None or load.target_reading_psi is None:
        return
    on = tap.at.astimezone(load.harvest_day.kitchen.zone).date()
    reason, told_psi = why_out_of_service(load.canner, on), load.target_reading_psi
    if reason:
        hold_load(
            load=load,
            deviations=[f"Run while the canner was out of service (rule S8): {reason}"],
            actor=actor,
        )
        return
    reading = target_reading(load.canner, on, load.pressure_psi)
    if reading <= told_psi:
        return
    correct_reading(load=load, target_reading_psi=reading, actor=actor)
    if tap.kind is EventKind.HEAT_OFF:
        told = f"The gauge was checked while the load ran: {reading:g} lb are needed, not {told_psi:g} lb (rule S8)."
        hold_load(load=load, deviations=[told], actor=actor)


def look_at_process(load: Load, actor: User) -> None:
    """Rule S1 once more: a run sheet outlives the altitude and the tables that it was made from."""
    reason = why_not_published(load)
    if reason:
        hold_load(
            load=load, deviations=[f"Loaded for a process out of date (rule S1): {reason}"], actor=actor
        )


def look_at_watch(load: Load, at: datetime, actor: User) -> None:
    """Rule S9 once more: whoever was to watch may have left the rota, or a training may not count any more."""
    kitchen = load.harvest_day.kitchen
    trained = ids_that_may_watch(kitchen, at.astimezone(kitchen.zone).date())
    there = {actor.pk, *(one.user_id for one in watches_of(load.harvest_day) if one.load_id == load.pk)}
    if not trained & there:
        told = "Heat went on with no trained person named at the canner (rule S9)."
        hold_load(load=load, deviations=[told], actor=actor)
