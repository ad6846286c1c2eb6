"""How long the phases of a load took, read off its process record."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from kitchen.equipment.models import Canner
from kitchen.floor.models import EventKind
from kitchen.floor.rules import Tap
from kitchen.learning.models import TimedKind

_LOST = frozenset({EventKind.PRESSURE_LOST, EventKind.BOIL_LOST})
_UNDER_PRESSURE: dict[TimedKind, tuple[EventKind, EventKind]] = {
    TimedKind.HEAT_UP: (EventKind.LOADED, EventKind.STEADY_STEAM),
    TimedKind.PRESSURE_UP: (EventKind.WEIGHT_ON, EventKind.AT_PRESSURE),
    TimedKind.COOL_DOWN: (EventKind.HEAT_OFF, EventKind.ZERO_PRESSURE),
    TimedKind.UNLOADING: (EventKind.LID_OFF, EventKind.JARS_OUT),
}
# Without pressure the lid may come off at any moment of the rest, so nothing tells when unloading began.
_OPEN: dict[TimedKind, tuple[EventKind, EventKind]] = {
    TimedKind.HEAT_UP: (EventKind.LOADED, EventKind.FULL_BOIL)
}


def minutes_in(canner: Canner, taps: Sequence[Tap]) -> dict[TimedKind, float]:
    """Minutes of each phase with a recorded beginning and end.

    Nothing of a load that lost pressure or boil: it was begun anew, with a burner or a canner that was not
    itself.
    """
    if any(tap.kind in _LOST for tap in taps):
        return {}
    at: dict[EventKind, datetime] = {tap.kind: tap.at for tap in taps}
    edges = _UNDER_PRESSURE if canner.is_pressure else _OPEN
    took = {
        kind: (at[end] - at[start]) / timedelta(minutes=1)
        for kind, (start, end) in edges.items()
        if start in at and end in at
    }
    return {kind: minutes for kind, minutes in took.items() if minutes > 0}
