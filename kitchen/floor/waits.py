"""What there is to wait for at a canner, and until when: the clocks of the run sheet.

They count from the times in the record, never from when a page was opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from kitchen.floor.models import EventKind
from kitchen.floor.rules import (
    REST_MINUTES,
    VENT_MINUTES,
    Tap,
    earliest_out,
    least_cool_down_minutes,
)
from kitchen.planning.models import Load

# The planned phase whose length says when the next step is to be expected.
_LEADS_TO_NEXT = {
    EventKind.LOADED: "heat_up",
    EventKind.WEIGHT_ON: "pressure_up",
    EventKind.HEAT_OFF: "cool_down",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """From when until when the next step would come too early: it would put the jars on hold."""

    began: datetime
    until: datetime

    @property
    def until_shown(self) -> datetime:
        """The first whole minute at which it is over: a wall clock shows no seconds, and must not say too early."""
        whole = self.until.replace(second=0, microsecond=0)
        return whole if whole == self.until else whole + timedelta(minutes=1)

    def is_over(self, now: datetime) -> bool:
        """Whether the next step may come."""
        return now >= self.until


def wait_of(load: Load, taps: Sequence[Tap]) -> Wait | None:
    """What the last step of a load's record has to be followed by; None where the next step may come at any time.

    Vent 10 minutes, the whole process from the last time that pressure or boil was reached, the least cool-down,
    the rest after zero pressure, and no jar out before the planned cool-down and rest are over (rules S4 to S6).
    """
    if not taps:
        return None
    last = taps[-1]
    minutes = {
        EventKind.STEADY_STEAM: VENT_MINUTES,
        EventKind.AT_PRESSURE: load.process_minutes,
        EventKind.FULL_BOIL: load.process_minutes,
        EventKind.ZERO_PRESSURE: REST_MINUTES,
    }
    if last.kind is EventKind.HEAT_OFF and load.canner.is_pressure:
        minutes[last.kind] = least_cool_down_minutes(load)
    if last.kind in minutes:
        return Wait(began=last.at, until=last.at + timedelta(minutes=minutes[last.kind]))
    if last.kind is EventKind.LID_OFF:
        heat_off = max((tap.at for tap in taps if tap.kind is EventKind.HEAT_OFF), default=None)
        earliest = earliest_out(load, heat_off)
        return Wait(began=last.at, until=earliest) if earliest > last.at else None
    return None


def expected_next(load: Load, taps: Sequence[Tap]) -> datetime | None:
    """When the next step is to be expected by the plan's lengths; None where nothing says so."""
    phases = {phase.kind: phase for phase in load.phases.all()}
    if not taps:
        return phases["heat_up"].starts_at if "heat_up" in phases else None
    last = taps[-1]
    phase = phases.get(_LEADS_TO_NEXT.get(last.kind, ""))
    return None if phase is None else last.at + (phase.ends_at - phase.starts_at)
