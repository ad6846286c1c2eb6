"""How much of a cooling table jars take up (rule S12)."""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.jars import SHAPES, JarSize

# Cooling jars stand at least 1 inch apart: USDA AIB 539, as cited with the 1 to 2 in of a manual.
GAP_BETWEEN_JARS_IN = 1.0


def area_sq_in(jars: Mapping[JarSize, int]) -> float:
    """What these jars take up on a cooling table: a square cell each, a gap wider than the jar."""
    return sum(count * (SHAPES[jar].diameter_in + GAP_BETWEEN_JARS_IN) ** 2 for jar, count in jars.items())
