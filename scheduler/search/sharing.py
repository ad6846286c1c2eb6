"""Which jars may ride in which load (rule S2), and how many of two sizes stand together (rule S13)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.canner_kind import CannerKind
from scheduler.jars import SHAPES, JarSize, Pack
from scheduler.printed_process import Process
from scheduler.problem import Day
from scheduler.rack import fits
from scheduler.search.layout import NONE, Numbers
from scheduler.search.options import Family, Option, cycle_with


@dataclass(frozen=True, slots=True)
class Kind:
    """What options have in common as far as sharing goes."""

    canner: int
    process: Process
    jar: JarSize
    meat_or_fish: bool
    pack: Pack
    jars: int

    @property
    def family(self) -> Family:
        """What loads must agree in."""
        return (str(self.process.method), self.process.pressure_psi, self.process.process_minutes)


@dataclass(frozen=True, slots=True)
class Sharing:
    """Kinds of option, by option; who may ride with whom; and pages of how many of two sizes fit.

    ``mixed`` gives for a kind and a second size (by its place in ``SIZES``) a page of ``mixes``, or NONE; a page says
    for so many jars of the kind's size and so many of the second whether they stand in the canner together.
    """

    kinds: list[int]
    may_share: NDArray[np.bool_]
    mixed: Numbers
    mixes: NDArray[np.bool_]


SIZES = tuple(JarSize)


def sharing_of(day: Day, options: Sequence[Option]) -> Sharing:
    """Everything about sharing that does not depend on the order."""
    numbers: dict[Kind, int] = {}
    kinds = [numbers.setdefault(_kind(day, option), len(numbers)) for option in options]
    may_share = np.zeros((len(numbers), len(numbers)), dtype=np.bool_)
    mixed = np.full((len(numbers), len(SIZES)), NONE, dtype=np.int64)
    most = max((kind.jars for kind in numbers), default=0)
    pages: dict[tuple[object, ...], int] = {}
    mixes: list[NDArray[np.bool_]] = []
    for host, guest in _pairs(numbers):
        if not _may_share(day, host, guest):
            continue
        may_share[numbers[host], numbers[guest]] = True
        if host.jar is not guest.jar:
            key = _stands_alike(day, host, guest.jar)
            if key not in pages:
                pages[key] = len(mixes)
                mixes.append(_page(day, host, guest.jar, most))
            mixed[numbers[host], SIZES.index(guest.jar)] = pages[key]
    return Sharing(kinds, may_share, mixed, np.array(mixes or [np.zeros((1, 1), dtype=np.bool_)]))


def _kind(day: Day, option: Option) -> Kind:
    batch = day.batches[option.batch]
    return Kind(option.canner, option.process, batch.jar, batch.meat_or_fish, batch.pack, option.jars)


def _pairs(kinds: Sequence[Kind] | dict[Kind, int]) -> Iterator[tuple[Kind, Kind]]:
    by_canner: dict[int, list[Kind]] = {}
    for kind in kinds:
        by_canner.setdefault(kind.canner, []).append(kind)
    for row in by_canner.values():
        for host in row:
            for guest in row:
                yield host, guest


def _may_share(day: Day, host: Kind, guest: Kind) -> bool:
    if host.meat_or_fish != guest.meat_or_fish or host.pack is not guest.pack:
        return False
    ours, theirs = SHAPES[guest.jar], SHAPES[host.jar]
    if ours.diameter_in > theirs.diameter_in or ours.height_in > theirs.height_in:
        return False
    if not _same_process(day, host.family, guest.family):
        return False
    if host.jar is guest.jar:
        return True
    # The host's cycle must be long enough for both sizes together (rules S4 and S5).
    alone = cycle_with(day, host.canner, host.process, (host.jar,))
    return cycle_with(day, host.canner, host.process, (host.jar, guest.jar)).phases == alone.phases


def _same_process(day: Day, host: Family, guest: Family) -> bool:
    if host == guest:
        return True
    return day.policy.share_under_longest and host[:2] == guest[:2] and guest[2] <= host[2]


def _stands_alike(day: Day, host: Kind, second: JarSize) -> tuple[object, ...]:
    """What decides how many of two sizes stand together; canners of one make need be asked once."""
    canner = day.canners[host.canner]
    measures = (canner.kind, canner.inside_diameter_in, canner.inside_depth_in, canner.layers)
    counts = tuple(sorted(canner.own_counts.items()))
    minutes = host.process.process_minutes if canner.kind is CannerKind.BOILING_WATER else None
    return (measures, counts, minutes, host.jar, second, host.jars)


def _page(day: Day, host: Kind, second: JarSize, most: int) -> NDArray[np.bool_]:
    canner, minutes = day.canners[host.canner], host.process.process_minutes
    page = np.zeros((most + 1, most + 1), dtype=np.bool_)
    for own in range(1, host.jars + 1):
        for others in range(host.jars - own + 1):
            page[own, others] = fits(canner, {host.jar: own, second: others}, process_minutes=minutes)
    return page
