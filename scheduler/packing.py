"""Circles in a circle: how many jars stand on a round rack, and where each one's centre lies.

One size: decided by the published ratios, so n fit exactly when the rack is wide enough. Two sizes: found by
search, for which no published table exists; it may refuse what a patient hand could place, but never accepts
what would touch or stick out. All measures are in inches; the middle of the rack is (0, 0).
"""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import accumulate, combinations
from pathlib import Path

from scheduler.errors import TablesDamaged

Point = tuple[float, float]

MOST_ON_A_RACK = 30
"""More circles than this are not in the table; a wider rack is taken to hold 30."""

PACKINGS = Path(__file__).with_name("circle_packings.csv")
"""The published ratios and the centres that attain them."""

# The table's ratios have 16 digits; a rack that misses one by less than this is as wide as the ratio asks.
_ROUNDING = 1e-12
# How far a stored packing may lie from its ratio before the file counts as damaged.
_TABLE_TOLERANCE = 1e-9
# Two sizes together are not searched beyond this share of the rack's area: 2 to 30 equal circles cover at
# most 0.80 (19 of them). A refusal too many costs a jar of water, an acceptance too many breaks jars.
_DENSEST_MIXED = 0.84
_STARTS = 16
_FIRST_ROUNDS = 60
_ROUNDS = 400
# The search packs circles that are this much wider, so that what it accepts passes the exact check without
# any tolerance.
_SWELL = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """Equal circles: the outer diameter for circles of diameter 1, and their centres.

    Scaled so that the farthest a centre may lie from the middle is 1.
    """

    ratio: float
    centres: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixed:
    """Centres of circles of two sizes on one rack."""

    large: tuple[Point, ...]
    small: tuple[Point, ...]


def most_equal(rack_in: float, jar_in: float) -> int:
    """How many jars ``jar_in`` wide stand on a rack ``rack_in`` wide, up to ``MOST_ON_A_RACK``.

    n fit exactly when ``rack_in / jar_in`` is at least the published ratio for n. Source:
    ``circle_packings.csv``.
    """
    ratio = rack_in / jar_in * (1.0 + _ROUNDING)
    return sum(1 for needed in _running_ratios() if needed <= ratio)


def equal_places(count: int, reach_in: float) -> tuple[Point, ...]:
    """Centres of ``count`` equal jars, as far from each other as the table allows.

    ``reach_in`` is the diameter of the circle on which the outermost centres lie: the rack's less one jar's.
    """
    return tuple((x * reach_in / 2, y * reach_in / 2) for x, y in _table()[count].centres) if count else ()


def widest(count: int, rack_in: float) -> float:
    """The diameter of the widest jar of which ``count`` fit on the rack."""
    return rack_in / _table()[count].ratio


def places(rack_in: float, groups: Sequence[tuple[float, int]]) -> tuple[tuple[Point, ...], ...] | None:
    """Centres for each ``(diameter, count)`` group on one rack, in the groups' order; or None.

    Three and more sizes are reduced to two, by giving each jar the place of a wider one.
    """
    order = sorted((index for index, (_, count) in enumerate(groups) if count), key=lambda i: -groups[i][0])
    found: list[tuple[Point, ...]] = [() for _ in groups]
    if not order:
        return tuple(found)
    for cut in range(len(order), 0, -1):
        wide, narrow = order[:cut], order[cut:]
        placed = _two_sizes(
            rack_in,
            (groups[wide[0]][0], sum(groups[i][1] for i in wide)),
            (groups[narrow[0]][0], sum(groups[i][1] for i in narrow)) if narrow else None,
        )
        if placed is not None:
            _share_out(found, groups, wide, placed.large)
            _share_out(found, groups, narrow, placed.small)
            return tuple(found)
    return None


@lru_cache(maxsize=512)
def frontier(rack_in: float, large_in: float, small_in: float) -> tuple[Mixed, ...]:
    """For each number of large jars, from none to all that fit, a packing with the most small ones found.

    Built from the fullest row of large jars downwards; a large jar may always give its place to a small one,
    so what holds q large and p small also holds any fewer of either. Deterministic: the starts are seeded by
    the counts alone.
    """
    most_large = most_equal(rack_in, large_in)
    packed = Mixed(large=equal_places(most_large, rack_in - large_in), small=())
    rows = []
    for count in range(most_large, 0, -1):
        packed = _fill_up(rack_in, large_in, small_in, packed)
        rows.append(packed)
        packed = Mixed(large=packed.large[: count - 1], small=(*packed.small, packed.large[count - 1]))
    rows.append(Mixed(large=(), small=equal_places(most_equal(rack_in, small_in), rack_in - small_in)))
    return tuple(reversed(rows))


def read_packings(path: Path) -> dict[int, Packing]:
    """The table of equal circles; ``TablesDamaged`` unless every packing is whole and attains its ratio."""
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    table: dict[int, Packing] = {}
    for count in range(1, MOST_ON_A_RACK + 1):
        mine = [row for row in rows if row["n"] == str(count)]
        ratios = {float(row["ratio"]) for row in mine}
        centres = tuple((float(row["x"]), float(row["y"])) for row in mine)
        if len(centres) != count or len(ratios) != 1 or not _attained(ratio := ratios.pop(), centres):
            raise TablesDamaged(
                f"The packing of {count} jars in {path.name} is not what was checked in.",
                remedy="Install the program afresh, or restore the file from the repository.",
            )
        table[count] = Packing(ratio=ratio, centres=centres)
    return table


def clear(rack_in: float, circles: Sequence[tuple[Point, float]], tolerance_in: float = 0.0) -> bool:
    """The distance check: no two ``(centre, diameter)`` circles overlap and none sticks out of the rack."""
    for index, (centre, diameter) in enumerate(circles):
        if math.hypot(*centre) + diameter / 2 > rack_in / 2 + tolerance_in:
            return False
        for other, width in circles[:index]:
            if math.dist(centre, other) < (diameter + width) / 2 - tolerance_in:
                return False
    return True


@cache
def _table() -> dict[int, Packing]:
    return read_packings(PACKINGS)


def _attained(ratio: float, centres: tuple[Point, ...]) -> bool:
    """True when the centres lie within the unit circle and their least distance gives exactly this ratio."""
    farthest = max(math.hypot(*centre) for centre in centres)
    least = min((math.dist(*pair) for pair in combinations(centres, 2)), default=math.inf)
    return farthest <= 1.0 + _TABLE_TOLERANCE and abs(1.0 + 2.0 / least - ratio) <= _TABLE_TOLERANCE


@cache
def _running_ratios() -> tuple[float, ...]:
    return tuple(accumulate((packing.ratio for packing in _table().values()), max))


def _two_sizes(rack_in: float, wide: tuple[float, int], narrow: tuple[float, int] | None) -> Mixed | None:
    wide_in, wide_count = wide
    if narrow is None:
        if wide_count > most_equal(rack_in, wide_in):
            return None
        return Mixed(large=equal_places(wide_count, rack_in - wide_in), small=())
    narrow_in, narrow_count = narrow
    if wide_count + narrow_count > most_equal(rack_in, narrow_in) or wide_count > most_equal(
        rack_in, wide_in
    ):
        return None
    row = frontier(rack_in, wide_in, narrow_in)[wide_count]
    if narrow_count > len(row.small):
        return None
    return Mixed(large=row.large, small=row.small[:narrow_count])


def _share_out(
    found: list[tuple[Point, ...]],
    groups: Sequence[tuple[float, int]],
    members: Sequence[int],
    points: tuple[Point, ...],
) -> None:
    start = 0
    for index in members:
        found[index] = points[start : start + groups[index][1]]
        start += groups[index][1]


def _fill_up(rack_in: float, large_in: float, small_in: float, packed: Mixed) -> Mixed:
    most = most_equal(rack_in, small_in)
    while len(packed.large) + len(packed.small) < most:
        more = _one_more(rack_in, large_in, small_in, packed)
        if more is None:
            break
        packed = more
    return packed


def _one_more(rack_in: float, large_in: float, small_in: float, packed: Mixed) -> Mixed | None:
    large, small = len(packed.large), len(packed.small) + 1
    if large * large_in**2 + small * small_in**2 > _DENSEST_MIXED * rack_in**2:
        return None
    diameters = [large_in] * large + [small_in] * small
    for start in _starts(rack_in, diameters, packed):
        points = _settle(rack_in, diameters, start)
        if points is not None and clear(rack_in, list(zip(points, diameters, strict=True))):
            return Mixed(large=tuple(points[:large]), small=tuple(points[large:]))
    return None


def _starts(rack_in: float, diameters: Sequence[float], before: Mixed) -> Iterator[list[Point]]:
    """First the packing at hand with one more jar in its middle, then seeded random ones."""
    yield [*before.large, *before.small, (0.0, 0.0)]
    dice = random.Random(len(before.large) * 1000 + len(diameters))  # noqa: S311 - a search, no secret
    for _ in range(_STARTS):
        start = []
        for diameter in diameters:
            angle = dice.random() * 2 * math.pi
            radius = (rack_in - diameter) / 2 * math.sqrt(dice.random())
            start.append((radius * math.cos(angle), radius * math.sin(angle)))
        yield start


def _settle(rack_in: float, diameters: Sequence[float], start: Sequence[Point]) -> list[Point] | None:
    """Push overlapping jars apart and back inside, round after round; None when overlaps remain."""
    radii = [diameter / 2 * (1.0 + _SWELL) for diameter in diameters]
    xs, ys = [x for x, _ in start], [y for _, y in start]
    enough = min(radii) * _SWELL / 4
    for round_number in range(_ROUNDS):
        worst = _push(rack_in / 2, radii, xs, ys)
        if worst <= enough:
            return list(zip(xs, ys, strict=True))
        if round_number == _FIRST_ROUNDS and worst > min(radii) / 12:
            return None
    return None


def _push(rack_radius: float, radii: Sequence[float], xs: list[float], ys: list[float]) -> float:
    worst = 0.0
    for i, radius in enumerate(radii):
        x, y = xs[i], ys[i]
        for j in range(i):
            dx, dy, needed = x - xs[j], y - ys[j], radius + radii[j]
            square = dx * dx + dy * dy
            if square < needed * needed:
                distance = math.sqrt(square)
                overlap = needed - distance
                worst = max(worst, overlap)
                if distance == 0.0:
                    dx, distance = 1.0, 1.0
                share = overlap / 2 / distance
                x, y = x + dx * share, y + dy * share
                xs[j], ys[j] = xs[j] - dx * share, ys[j] - dy * share
        reach, limit = math.hypot(x, y), rack_radius - radius
        if reach > limit:
            worst = max(worst, reach - limit)
            x, y = x * limit / reach, y * limit / reach
        xs[i], ys[i] = x, y
    return worst
