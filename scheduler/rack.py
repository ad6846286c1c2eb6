"""Jars in a canner: how many fit, and where each one stands (rule S13).

Round jars stand on a round rack, in one layer or, in a canner marked for it, in two with a rack between. The
diameter decides how many stand side by side, the depth how many layers stand one upon the other. A kitchen
that measured its own jars gives their ``shapes``; a kitchen that counted gives ``Canner.own_counts``, which
is believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from scheduler import packing
from scheduler.canner import Canner
from scheduler.canner_kind import CannerKind
from scheduler.errors import CannerOutOfService, DoesNotFit
from scheduler.jars import SHAPES, JarShape, JarSize

# Taken off the inside diameter, so that jars go in and out without force. Common practice, no source; between
# 0.107 and 0.146 in both published counts of a 12.5 in canner come out: 7 quarts of 3.75 in, not 8, and 10
# pints of 3.24 in.
RACK_CLEARANCE_IN = 0.125
# The rack under the jars, and the one between two layers: a perforated sheet. Common practice, no source; up
# to 0.12 in two layers of 5.13 in pints stand in a canner 10.5 in deep, which is published (USDA AIB 539,
# Recommended Canners: 18 pints).
RACK_HEIGHT_IN = 0.1
# Water over the tops of the jars in a boiling-water canner: 1 in, and 2 in when the process exceeds 30
# minutes. Source: USDA AIB 539 through NCHFP, Using Boiling Water Canners.
WATER_OVER_JARS_IN = 1.0
DEEP_WATER_OVER_JARS_IN = 2.0
DEEP_WATER_ABOVE_MINUTES = 30
# Water in a pressure canner before the jars go in, unless its manual asks for more. Source: USDA AIB 539 (1994),
# Recommended Canners; Michigan State University Extension, Using Pressure Canners.
LEAST_PRESSURE_WATER_IN = 2.0
MOST_PRESSURE_WATER_IN = 3.0
# The least a pressure canner must hold, upright and with the lid on, to count as one. Source: NCHFP, Burning
# Issue: Using Pressure Cookers; the processes were worked out in canners of this size and larger.
LEAST_QUARTS = 4
# Rule S13. A jar maker's advice (2016), called possibly good practice by extension services; USDA and NCHFP
# print no minimum.
LEAST_LOAD_PINTS = 4

_PINTS: dict[JarSize, int] = {JarSize.PINT_AND_HALF: 2, JarSize.QUART: 2, JarSize.HALF_GALLON: 4}
# A level base for the rack between: the jars of a lower layer may differ in height by this much.
_LEVEL_IN = 0.05

Counts = tuple[tuple[JarSize, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where one jar stands. Layer 1 is the lower; the middle of the rack is (0, 0), in inches."""

    layer: int
    x_in: float
    y_in: float
    diameter_in: float
    jar: JarSize


def capacity(
    canner: Canner,
    jar: JarSize,
    *,
    process_minutes: int | None = None,
    shapes: Mapping[JarSize, JarShape] = SHAPES,
) -> int:
    """How many jars of one size the full canner holds; 0 when not even one can stand in it.

    ``process_minutes`` matters to a boiling-water canner alone, where a process above 30 minutes needs 2 in
    of water over the jars; unknown counts as above 30. The kitchen's own count replaces the geometry, but
    never the water: where one layer must go because it would stand too high, its share of the count goes with
    it.
    """
    shape = shapes[jar]
    layers = _layers(canner, shape.height_in, _water_in(canner, process_minutes))
    own = canner.own_counts.get(jar)
    if own is None:
        return layers * packing.most_equal(_rack_in(canner), shape.diameter_in)
    if canner.kind is not CannerKind.BOILING_WATER:
        return own
    counted_layers = max(layers, _layers(canner, shape.height_in, WATER_OVER_JARS_IN), 1)
    return own * layers // counted_layers


def fits(
    canner: Canner,
    jars: Mapping[JarSize, int],
    *,
    process_minutes: int | None = None,
    shapes: Mapping[JarSize, JarShape] = SHAPES,
) -> bool:
    """True when these jars may go into the canner together. Quick for one size; cached for several.

    For several sizes it may refuse what a patient hand could place; it never accepts what would not stand.
    """
    counts = _counts(jars)
    if len(counts) > 1:
        return (
            _several(canner, counts, _water_in(canner, process_minutes), _known(shapes, counts)) is not None
        )
    return all(
        count <= capacity(canner, jar, process_minutes=process_minutes, shapes=shapes)
        for jar, count in counts
    )


def arrange(
    canner: Canner,
    jars: Mapping[JarSize, int],
    *,
    process_minutes: int | None = None,
    shapes: Mapping[JarSize, JarShape] = SHAPES,
) -> tuple[Place, ...]:
    """Where each jar stands, the lower layer first; :class:`DoesNotFit` exactly when :func:`fits` says no.

    Where the kitchen's own count is above what the diameters allow, jars are drawn as wide as that count
    leaves room for.
    """
    counts = _counts(jars)
    if not fits(canner, jars, process_minutes=process_minutes, shapes=shapes):
        raise _refusal(canner, counts, process_minutes, shapes)
    if not counts:
        return ()
    water_in = _water_in(canner, process_minutes)
    if len(counts) > 1:
        return _several(canner, counts, water_in, _known(shapes, counts)) or ()
    (jar, count), shape = counts[0], shapes[counts[0][0]]
    layers = max(1, _layers(canner, shape.height_in, water_in))
    full = capacity(canner, jar, process_minutes=process_minutes, shapes=shapes)
    per_layer = max(packing.most_equal(_rack_in(canner), shape.diameter_in), math.ceil(full / layers))
    return _equal_stack(canner, jar, count, per_layer, shape.diameter_in)


def water_jars(
    canner: Canner,
    jars: Mapping[JarSize, int],
    *,
    process_minutes: int | None = None,
    shapes: Mapping[JarSize, JarShape] = SHAPES,
) -> int:
    """How many jars of water fill the load up (rule S13), counted in its widest size; 0 for no jars at all.

    Source: extension answers that cite a jar maker (2016): fill the space with jars of water.
    """
    counts = _counts(jars)
    if not counts:
        return 0
    filler = max((jar for jar, _ in counts), key=lambda jar: shapes[jar].diameter_in)
    filled, added = dict(counts), 0
    while True:
        filled[filler] += 1
        if not fits(canner, filled, process_minutes=process_minutes, shapes=shapes):
            return added
        added += 1


def is_small_load(canner: Canner, jars: Mapping[JarSize, int]) -> bool:
    """Rule S13: True when a pressure canner would run with fewer than 2 quarts or 4 pints: a warning is due.

    A jar smaller than a pint counts as a pint, one between pint and quart as a quart.
    """
    pints = sum(count * _PINTS.get(jar, 1) for jar, count in jars.items())
    return canner.kind.is_pressure and 0 < pints < LEAST_LOAD_PINTS


def water_over_jars_in(process_minutes: int | None) -> float:
    """How deep the water stands at least over the jars in a boiling-water canner; an unknown time counts as long."""
    if process_minutes is not None and process_minutes <= DEEP_WATER_ABOVE_MINUTES:
        return WATER_OVER_JARS_IN
    return DEEP_WATER_OVER_JARS_IN


def check_size(canner: Canner, shapes: Mapping[JarSize, JarShape] = SHAPES) -> None:
    """Raise :class:`CannerOutOfService` for a pressure canner that does not hold four quarts upright."""
    if canner.kind.is_pressure and capacity(canner, JarSize.QUART, shapes=shapes) < LEAST_QUARTS:
        raise CannerOutOfService(
            f"{canner.name} does not hold {LEAST_QUARTS} quarts upright, so no published process covers it.",
            remedy="Use a canner that holds four quarts or more, or correct its measures.",
        )


def _counts(jars: Mapping[JarSize, int]) -> Counts:
    for jar, count in jars.items():
        if count < 0:
            raise DoesNotFit(
                f"{count} {jar.words} jars were asked for.", remedy="Give a number of jars, 0 or more."
            )
    return tuple(sorted((jar, count) for jar, count in jars.items() if count))


def _refusal(
    canner: Canner, counts: Counts, process_minutes: int | None, shapes: Mapping[JarSize, JarShape]
) -> DoesNotFit:
    asked = " and ".join(f"{count} {jar.words}" for jar, count in counts)
    most = {jar: capacity(canner, jar, process_minutes=process_minutes, shapes=shapes) for jar, _ in counts}
    too_tall = [jar.words for jar, count in most.items() if count == 0]
    if too_tall:
        under = " with the water they need over them" if canner.kind is CannerKind.BOILING_WATER else ""
        return DoesNotFit(
            f"{canner.name} is too small for {' and '.join(too_tall)} jars{under}.",
            remedy="Choose a larger canner.",
        )
    holds = " or ".join(f"{count} {jar.words} jars" for jar, count in most.items())
    return DoesNotFit(
        f"{asked} jars do not fit into {canner.name} at once; it holds at most {holds}.",
        remedy="Split them over more loads.",
    )


def _known(shapes: Mapping[JarSize, JarShape], counts: Counts) -> tuple[JarShape, ...]:
    return tuple(shapes[jar] for jar, _ in counts)


def _rack_in(canner: Canner) -> float:
    return canner.inside_diameter_in - RACK_CLEARANCE_IN


def _water_in(canner: Canner, process_minutes: int | None) -> float:
    return water_over_jars_in(process_minutes) if canner.kind is CannerKind.BOILING_WATER else 0.0


def _layers(canner: Canner, height_in: float, water_in: float) -> int:
    room_in = canner.inside_depth_in - water_in
    return max(0, min(canner.layers, int(room_in / (height_in + RACK_HEIGHT_IN) + 1e-9)))


@lru_cache(maxsize=4096)
def _several(
    canner: Canner, counts: Counts, water_in: float, shapes: tuple[JarShape, ...]
) -> tuple[Place, ...] | None:
    """Places for several sizes at once, or None. ``shapes`` goes with ``counts``, one for one."""
    shape_of = {jar: shape for (jar, _), shape in zip(counts, shapes, strict=True)}
    if not _within_own_counts(canner, counts, water_in, shape_of):
        return None
    for layers in _layerings(canner, counts, shape_of):
        tall_in = sum(max(shape_of[jar].height_in for jar, _ in layer) + RACK_HEIGHT_IN for layer in layers)
        if tall_in > canner.inside_depth_in - water_in + 1e-9:
            continue
        placed = [_layer(canner, layer, number, shape_of) for number, layer in enumerate(layers, start=1)]
        if all(placed):
            return tuple(place for layer in placed for place in layer)
    return None


def _within_own_counts(
    canner: Canner, counts: Counts, water_in: float, shape_of: Mapping[JarSize, JarShape]
) -> bool:
    """Where the kitchen counted fewer than the geometry gives, each jar takes its share of that count."""
    share = 0.0
    for jar, count in counts:
        if jar in canner.own_counts:
            share += count / canner.own_counts[jar]
        else:
            shape = shape_of[jar]
            per_layer = packing.most_equal(_rack_in(canner), shape.diameter_in)
            share += count / max(1, per_layer * _layers(canner, shape.height_in, water_in))
    return share <= 1.0 + 1e-9 or not any(jar in canner.own_counts for jar, _ in counts)


def _layerings(
    canner: Canner, counts: Counts, shape_of: Mapping[JarSize, JarShape]
) -> Iterator[tuple[Counts, ...]]:
    """Ways to share jars over layers: all in one; or one height below, as full as can be, the rest above."""
    yield (counts,)
    if canner.layers < 2:
        return
    for base, _ in counts:
        height_in = shape_of[base].height_in
        level = [jar for jar, _ in counts if abs(shape_of[jar].height_in - height_in) <= _LEVEL_IN]
        below, above = dict.fromkeys(level, 0), dict(counts)
        for jar in level:
            while above[jar]:
                below[jar] += 1
                if not _layer(canner, _counts(below), 1, shape_of):
                    below[jar] -= 1
                    break
                above[jar] -= 1
        if any(below.values()) and any(above.values()):
            yield _counts(below), _counts(above)


def _layer(
    canner: Canner, counts: Counts, number: int, shape_of: Mapping[JarSize, JarShape]
) -> tuple[Place, ...]:
    """One layer's places; empty when it does not fit."""
    groups = [(shape_of[jar].diameter_in, count) for jar, count in counts]
    found = packing.places(_rack_in(canner), groups)
    if found is None:
        return ()
    return tuple(
        Place(layer=number, x_in=x, y_in=y, diameter_in=shape_of[jar].diameter_in, jar=jar)
        for (jar, _), points in zip(counts, found, strict=True)
        for x, y in points
    )


def _equal_stack(
    canner: Canner, jar: JarSize, count: int, per_layer: int, jar_in: float
) -> tuple[Place, ...]:
    rack_in = _rack_in(canner)
    placed: list[Place] = []
    while len(placed) < count:
        here = min(per_layer, count - len(placed))
        drawn_in = min(jar_in, packing.widest(here, rack_in))
        layer = 1 + len(placed) // per_layer
        placed += [
            Place(layer=layer, x_in=x, y_in=y, diameter_in=drawn_in, jar=jar)
            for x, y in packing.equal_places(here, rack_in - drawn_in)
        ]
    return tuple(placed)
