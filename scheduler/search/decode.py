"""From an order of batches to a day: each load is put where it ends first, with everything it needs around it."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy

import numpy as np

from scheduler.problem import Day
from scheduler.rota.rested import rested
from scheduler.search import layout
from scheduler.search.facts import facts_of, fresh_floor, prep_hands
from scheduler.search.layout import NONE, Floor, Numbers
from scheduler.search.make import make_day
from scheduler.search.options import Options, longest_watch_minutes
from scheduler.search.placed import Decoded, Gene, Piece, Placed
from scheduler.search.resources import Resources


class Decoder:
    """Turns orders into days for one question.

    Everything that does not depend on the order is worked out once. ``resources`` say what is free before the first
    load; without them it is what the day has with people's rests taken out, which is the day ``there``.

    ``effort`` counts the places looked at, a measure of work that is the same on every machine.
    """

    def __init__(self, day: Day, options: Options, resources: Resources | None = None) -> None:
        self.day = day
        self.options = options
        self.there = rested(day, longest_watch_minutes(options))
        have = Resources(day, self.there) if resources is None else resources
        self.facts = facts_of(day, options)
        self.fresh = fresh_floor(day, options, have)
        self.floor = _copy_of(self.fresh)
        self._aside = _copy_of(self.fresh)
        self._rows = [option for row in options.by_batch for option in row]
        self._people = [watcher.index for watcher in have.watchers]
        self._prep_hands = prep_hands(day)

    def when(self, there: Day) -> Decoder:
        """The decoder of the same question when people are ``there`` at other times. The two share their effort and
        the room they work in, so only one of them may be at work.
        """
        twin = copy(self)
        twin.there = there
        twin.fresh = fresh_floor(self.day, self.options, Resources(self.day, there))
        return twin

    @property
    def effort(self) -> int:
        """The places looked at so far."""
        return int(self.floor.counts[layout.EFFORT])

    def decode(self, genes: Sequence[Gene]) -> Decoded:
        """The day this order makes. Jars whose turn is over are placed at the end, batch by batch."""
        order = genes_array(genes)
        make_day(self.facts, self.fresh, self.floor, order, len(order))
        return self._read(self.floor)

    def remake(self, order: Numbers, count: int) -> Decoded:
        """The day that the first genes of an order of the compiled search make. It costs no effort."""
        make_day(self.facts, self.fresh, self._aside, order, count)
        return self._read(self._aside)

    def _read(self, floor: Floor) -> Decoded:
        loads = [self._load(row) for row in floor.loads[: floor.counts[layout.LOADS]]]
        turns: list[Gene] = []
        for row in floor.pieces[: floor.counts[layout.PIECES]]:
            load = loads[row[layout.OF_LOAD]]
            turns.append((int(row[layout.OF_BATCH]), None if load.pieces else load.option.canner))
            load.pieces.append(self._piece(row))
        return Decoded(
            loads=loads,
            turns=turns,
            left=floor.of_batch[layout.LEFT].tolist(),
            late=floor.of_batch[layout.LATE].tolist(),
            score=tuple(floor.score.tolist()),
        )

    def _load(self, row: Numbers) -> Placed:
        return Placed(
            option=self._rows[row[layout.OPTION]],
            start=int(row[layout.START]),
            watcher=self._people[row[layout.WATCHER]],
            table=None if row[layout.TABLE] == NONE else int(row[layout.TABLE]),
        )

    def _piece(self, row: Numbers) -> Piece:
        prep = (int(row[layout.PREP_FROM]), int(row[layout.PREP_TO]))
        return Piece(
            batch=int(row[layout.OF_BATCH]),
            option=self._rows[row[layout.OF_OPTION]],
            jars=int(row[layout.PIECE_JARS]),
            prep=prep if prep[1] > prep[0] else None,
            prep_hands=self._prep_hands,
            kettle=None if row[layout.KETTLE] == NONE else int(row[layout.KETTLE]),
        )


def genes_array(genes: Sequence[Gene]) -> Numbers:
    """Genes as the compiled loops take them: batch and canner, NONE for any."""
    rows = [(batch, NONE if canner is None else canner) for batch, canner in genes]
    return np.array(rows, dtype=np.int64).reshape(-1, 2)


def _copy_of(floor: Floor) -> Floor:
    """An independent copy."""
    return Floor(*(array.copy() for array in floor))
