"""Canners and burners to plan with: ordinary ones, of which a test changes what it is about."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduler.canner import Burner, Canner
from scheduler.canner_kind import CannerKind
from scheduler.interval import Span

ALL_DAY = (Span(0, 24 * 60),)

GAS = Burner(id="gas", name="Gas ring", power_w=3517)
"""12,000 BTU/h at 40 %: the most allowed under a thin-walled canner. NCHFP, Canning on Portable Burners."""

DIAL = Canner(
    id="dial",
    name="Old Dial",
    kind=CannerKind.DIAL,
    inside_diameter_in=12.5,
    inside_depth_in=10.5,
    layers=2,
    burner_id="gas",
    service=ALL_DAY,
    gauge_checked_on=date(2026, 8, 1),
)
"""The 22 to 23 qt class: about 12.5 in wide and 10.5 in deep."""

WEIGHTED = replace(DIAL, id="weighted", name="Rocker", kind=CannerKind.WEIGHTED, gauge_checked_on=None)

BOILING_WATER = Canner(
    id="kettle",
    name="Big Blue",
    kind=CannerKind.BOILING_WATER,
    inside_diameter_in=12.25,
    inside_depth_in=10.5,
    burner_id="gas",
    service=ALL_DAY,
)
"""About 21 qt: pi/4 x 12.25 in x 12.25 in x 10.5 in are 21.4 qt."""

STEAM = replace(BOILING_WATER, id="steam", name="Cloud", kind=CannerKind.STEAM)
