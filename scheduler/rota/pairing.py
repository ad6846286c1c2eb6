"""Which watches one person holds together, so that people stand at canners for as few minutes as possible.

A block is what one person holds without a moment in between, up to so many seats at once. The question is which blocks
cover all seats in the fewest minutes: a linear programme whose columns are blocks, found as they are needed (column
generation), and then a dive that fixes one block after the other. Its optimum before the dive is a proven bound.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, chain, pairwise

from ortools.linear_solver import pywraplp

from scheduler.interval import Span

Block = tuple[int, ...]
"""Numbers of the seats that one person holds without a moment in between, in the order of their starts."""

_FOR_NOTHING = 1e-6
"""A block must save more minutes than this to be looked at: the solver's own precision."""
_SURE = 0.95
"""Shares of a block from which the dive takes several at a time."""
_COLUMNS_PER_START = 2
_DEAR = 5.0
"""What a minute of somebody who cannot be spared costs, in minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Blocks that hold every seat, and the minutes that any others take at least."""

    blocks: tuple[Block, ...]
    least_minutes: int


def pair_up(
    spans: Sequence[Span],
    together: int,
    until: Callable[[int], int],
    spared: Callable[[Span], int] | None = None,
) -> Pairing:
    """Blocks for seats at these times, at most ``together`` at once.

    ``until`` says till when somebody who begins at a minute may go on. A seat that is longer may still be held, with
    what lies inside it. ``spared`` says how many people can be spared for these seats in a time; more are dear, and the
    least minutes are then proven only for as many.
    """
    parts = [_pair_part(spans, part, together, until, spared) for part in _apart(spans)]
    return Pairing(
        blocks=tuple(sorted(chain.from_iterable(one.blocks for one in parts))),
        least_minutes=sum(one.least_minutes for one in parts),
    )


def _apart(spans: Sequence[Span]) -> Iterator[list[int]]:
    """Seats with a moment in between have nothing to do with each other."""
    ordered = sorted(range(len(spans)), key=lambda one: (spans[one].start, -spans[one].end))
    part: list[int] = []
    reached = 0
    for number in ordered:
        if part and spans[number].start > reached:
            yield part
            part = []
        reached = max(reached, spans[number].end) if part else spans[number].end
        part.append(number)
    if part:
        yield part


def _pair_part(
    spans: Sequence[Span],
    part: Sequence[int],
    together: int,
    until: Callable[[int], int],
    spared: Callable[[Span], int] | None,
) -> Pairing:
    here = [spans[number] for number in part]
    programme = _Programme(here, together, [max(until(one.start), one.end) for one in here])
    if spared is not None:
        programme.spare(spared)
    least = programme.solve()
    blocks = programme.dive()
    return Pairing(
        blocks=tuple(tuple(part[number] for number in block) for block in blocks),
        # Minutes are whole; a thousandth covers the precision of the solver.
        least_minutes=math.ceil(least - 1e-3),
    )


@dataclass(slots=True)
class _Column:
    span: Span
    share: pywraplp.Variable


@dataclass(slots=True)
class _Programme:
    """The fewest minutes of blocks that cover each seat, and each moment often enough for the seats at it.

    ``limits`` say till when a block may go on that begins with the seat. ``spans`` are in the order of their starts,
    the longer first.
    """

    spans: Sequence[Span]
    together: int
    limits: Sequence[int]
    _solver: pywraplp.Solver = field(init=False)
    _seats: list[pywraplp.Constraint] = field(init=False)
    _moments: list[tuple[Span, pywraplp.Constraint]] = field(init=False)
    _columns: dict[Block, _Column] = field(init=False, default_factory=dict)
    _open: set[int] = field(init=False)

    def __post_init__(self) -> None:
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.Objective().SetMinimization()
        self._seats = [self._solver.Constraint(1, self._solver.infinity()) for _ in self.spans]
        edges = sorted({edge for one in self.spans for edge in (one.start, one.end)})
        moments = [Span(start, end) for start, end in pairwise(edges)]
        self._moments = [
            (moment, self._solver.Constraint(self._people_at(moment), self._solver.infinity()))
            for moment in moments
        ]
        self._open = set(range(len(self.spans)))
        for number in range(len(self.spans)):
            self._add((number,))

    def spare(self, spared: Callable[[Span], int]) -> None:
        """Let more people than can be spared at a moment, or than are needed, count as so many minutes more."""
        for moment, row in self._moments:
            row.SetUb(max(row.lb(), spared(moment)))
            more = self._solver.NumVar(0, self._solver.infinity(), "")
            row.SetCoefficient(more, -1)
            self._solver.Objective().SetCoefficient(more, _DEAR * moment.minutes)

    def solve(self) -> float:
        """The least minutes, with the seats that are fixed."""
        while True:
            if self._solver.Solve() != pywraplp.Solver.OPTIMAL:
                raise AssertionError("each seat alone is a block, so there is always an answer")
            found = [block for block in self._priced() if self._add(block)]
            if not found:
                least: float = self._solver.Objective().Value()
                return least

    def dive(self) -> list[Block]:
        """Fix the blocks with the largest shares, solve again, until every seat is in one."""
        fixed: list[Block] = []
        while self._open:
            shares = sorted(
                (-column.share.solution_value(), block)
                for block, column in self._columns.items()
                if self._open.issuperset(block)
            )
            for at, (share, block) in enumerate(shares):
                if at and -share < _SURE:
                    break
                if self._open.issuperset(block):
                    self._columns[block].share.SetBounds(1, 1)
                    self._open.difference_update(block)
                    fixed.append(block)
            for block, column in self._columns.items():
                if not self._open.issuperset(block) and column.share.lb() < 1:
                    column.share.SetBounds(0, 0)
            self.solve()
        return fixed

    def _people_at(self, moment: Span) -> int:
        return math.ceil(sum(one.holds(moment) for one in self.spans) / self.together)

    def _add(self, block: Block) -> bool:
        if block in self._columns:
            return False
        span = Span(self.spans[block[0]].start, max(self.spans[number].end for number in block))
        share = self._solver.NumVar(0, self._solver.infinity(), "")
        self._solver.Objective().SetCoefficient(share, span.minutes)
        for number in block:
            self._seats[number].SetCoefficient(share, 1)
        for moment, row in self._moments:
            if span.holds(moment):
                row.SetCoefficient(share, 1)
        self._columns[block] = _Column(span=span, share=share)
        return True

    def _priced(self) -> Iterator[Block]:
        """Of the blocks from each seat on, the ones that save most."""
        worth = [row.dual_value() for row in self._seats]
        edges = [self._moments[0][0].start, *(moment.end for moment, _ in self._moments)]
        costs = [moment.minutes - row.dual_value() for moment, row in self._moments]
        paid = dict(zip(edges, accumulate(costs, initial=0.0), strict=True))
        ordered = sorted(self._open)
        for at, first in enumerate(ordered):
            begun = paid[self.spans[first].start]
            found = self._from(ordered[at:], worth)
            saved = sorted(
                ((value + begun - paid[ends[-1]], block) for ends, (value, block) in found.items()),
                reverse=True,
            )
            yield from (block for value, block in saved[:_COLUMNS_PER_START] if value > _FOR_NOTHING)

    def _from(
        self, seats: Sequence[int], worth: Sequence[float]
    ) -> dict[tuple[int, ...], tuple[float, Block]]:
        """The worthiest block from the first of these seats on, by the ends of what is held at its last start."""
        first, *others = seats
        limit = self.limits[first]
        best: dict[tuple[int, ...], tuple[float, Block]] = {
            (self.spans[first].end,): (worth[first], (first,))
        }
        for number in others:
            span = self.spans[number]
            if span.start > limit:
                break
            if span.end > limit:
                continue
            longer: dict[tuple[int, ...], tuple[float, Block]] = {}
            for ends, (value, block) in best.items():
                running = [end for end in ends if end > span.start]
                if ends[-1] < span.start or len(running) == self.together:
                    continue
                key = tuple(sorted((*running, span.end)))
                known = max(longer.get(key, (-1.0, ()))[0], best.get(key, (-1.0, ()))[0])
                if value + worth[number] > known:
                    longer[key] = value + worth[number], (*block, number)
            best.update(longer)
        return best
