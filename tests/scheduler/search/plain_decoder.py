"""The decoder once more, in plain Python with a day as bits: slow, short of cunning, and held against the fast one."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.interval import Span
from scheduler.jars import SHAPES, JarSize
from scheduler.problem import Batch, Day, StationKind
from scheduler.rack import fits
from scheduler.rota.rested import rested
from scheduler.search.minutes import beginnings, block, first_from, shifted
from scheduler.search.options import Option, Options, cycle_with, longest_watch_minutes, most_hands
from scheduler.search.placed import Decoded, Gene, Piece, Placed, Score
from scheduler.search.resources import Resources, Watcher
from scheduler.search.stand import area_sq_in
from scheduler.work import prep_minutes

_ADULTS_ONLY = frozenset({StationKind.KETTLE, StationKind.COOLING, StationKind.CANNER})


class PlainDecoder:
    """Turns orders into days for one question.

    Everything that does not depend on the order is worked out once.
    """

    def __init__(self, day: Day, options: Options) -> None:
        self.day = day
        self.options = options
        self._fresh = Resources(day, rested(day, longest_watch_minutes(options)))
        self._prep_hands = min(day.policy.prep_hands, most_hands(day, StationKind.PREP))
        self._by_canner = [
            [[option for option in row if option.canner == number] for number in range(len(day.canners))]
            for row in options.by_batch
        ]

    def decode(self, genes: Sequence[Gene]) -> Decoded:
        """The day this order makes. Jars whose turn is over are placed at the end, batch by batch."""
        state = _State(self.day, self._fresh.copy(), self._prep_hands)
        left = [batch.jars for batch in self.day.batches]
        for batch, canner in genes:
            if left[batch] > 0:
                left[batch] -= self._place(state, batch, canner, left[batch])
        for batch in dict.fromkeys(batch for batch, _ in genes):
            while left[batch] > 0 and (placed := self._place(state, batch, None, left[batch])):
                left[batch] -= placed
        late = _late(self.day, state.loads)
        return Decoded(state.loads, state.turns, left, late, _score(state.loads, left, late))

    def _place(self, state: _State, batch: int, canner: int | None, jars: int) -> int:
        joined = state.join(batch, self.options.by_batch[batch], jars)
        if joined:
            return joined
        row = self.options.by_batch[batch] if canner is None else self._by_canner[batch][canner]
        best: tuple[int, int, _Site] | None = None
        for option in row:
            site = state.site(option, min(jars, option.jars), self.day.horizon if best is None else best[0])
            if site is not None:
                rank = (site.start + option.minutes, option.minutes)
                if best is None or rank < best[:2]:
                    best = (*rank, site)
        if best is None:
            return 0 if canner is None else self._place(state, batch, None, jars)
        return state.take(best[2])


@dataclass(slots=True)
class _Site:
    """Where a load could go."""

    option: Option
    jars: int
    start: int
    prep: tuple[int, int] | None
    kettle: int | None
    watcher: Watcher
    table: int | None


class _State:
    """A day while it is being decoded."""

    def __init__(self, day: Day, resources: Resources, prep_hands: int) -> None:
        self.day = day
        self.have = resources
        self.prep_hands = prep_hands
        self.loads: list[Placed] = []
        self.turns: list[Gene] = []
        self._known: dict[tuple[str | int, ...], int] = {}

    def site(self, option: Option, jars: int, latest_out: int) -> _Site | None:
        """The earliest place for a load of so many jars that is out by ``latest_out``, or None."""
        batch = self.day.batches[option.batch]
        prep = self._prep(batch, jars, self.day.horizon)
        if prep is None:
            return None
        ready = prep[1] + batch.kettle_minutes
        latest = latest_out - option.minutes
        can = self._vessel_starts(option) & block(ready, latest + 1)
        if can:
            can &= self._hands_starts(option)
        if can and batch.meat_or_fish:
            can &= self._meat_starts(option)
        if can:
            can &= self._watch_starts(option)
        if not can:
            return None
        kettles = self._kettles(batch, option, jars)
        fed = 0
        for mask in kettles.values():
            fed |= mask
        start, table = self._with_table(can & fed, ready, option.minutes, {batch.jar: jars})
        if start is None:
            return None
        return _Site(
            option=option,
            jars=jars,
            start=start,
            prep=prep if prep[1] > prep[0] else None,
            kettle=next(number for number, mask in kettles.items() if mask >> start & 1),
            watcher=self._watcher(option, start),
            table=table,
        )

    def take(self, site: _Site) -> int:
        """Put the load there; returns its jars."""
        option, start, day = site.option, site.start, self.day
        canner = day.canners[option.canner]
        batch = day.batches[option.batch]
        out = start + option.minutes
        taken = block(start, out + (day.policy.cleaning_minutes if batch.meat_or_fish else 0))
        self.have.canners[option.canner] &= ~taken
        self.have.burners[canner.burner_id] &= ~block(start, out)
        self.have.take_hands(StationKind.FILL, start, start + option.fill, option.fill_hands, adults=False)
        self._known.clear()
        heat_on = start + option.heat_on
        self.have.take_watch(site.watcher, heat_on, heat_on + option.watch_minutes)
        self.have.take_hands(StationKind.COOLING, out - day.policy.unloading_minutes, out, 1, adults=True)
        if batch.meat_or_fish:
            clean = block(out, out + day.policy.cleaning_minutes)
            self.have.all.add(clean)
            self.have.adults.add(clean)
        placed = Placed(option, start, site.watcher.index, site.table)
        self.loads.append(placed)
        self.turns.append((option.batch, option.canner))
        self._add_piece(
            placed, Piece(option.batch, option, site.jars, site.prep, self.prep_hands, site.kettle)
        )
        return site.jars

    def join(self, batch: int, row: Sequence[Option], jars: int) -> int:
        """Put jars into a load already placed that has room and the same process (rule S2); returns how many."""
        for option in row:
            for load in self.loads:
                if load.option.canner == option.canner and self._may_share(load, option):
                    piece = self._piece(load, batch, option, jars)
                    if piece is not None:
                        self._add_piece(load, piece)
                        self.turns.append((batch, None))
                        return piece.jars
        return 0

    def _may_share(self, load: Placed, option: Option) -> bool:
        first, other = self.day.batches[load.option.batch], self.day.batches[option.batch]
        if first.meat_or_fish != other.meat_or_fish or first.pack is not other.pack:
            return False
        ours, theirs = SHAPES[other.jar], SHAPES[first.jar]
        if ours.diameter_in > theirs.diameter_in or ours.height_in > theirs.height_in:
            return False
        if first.jar is not other.jar and not self._as_slow(load.option, (first.jar, other.jar)):
            return False
        if load.option.family == option.family:
            return True
        method, pressure_psi, minutes = option.family
        return (
            self.day.policy.share_under_longest
            and load.option.family[:2] == (method, pressure_psi)
            and minutes <= load.option.family[2]
        )

    def _as_slow(self, option: Option, jars: tuple[JarSize, ...]) -> bool:
        """True when the load's cycle is long enough for these sizes together (rules S4 and S5)."""
        together = cycle_with(self.day, option.canner, option.process, jars)
        return together.phases == option.cycle.phases

    def _piece(self, load: Placed, batch: int, option: Option, jars: int) -> Piece | None:
        room = min(jars, load.option.jars - sum(piece.jars for piece in load.pieces))
        if room <= 0 or any(piece.batch == batch for piece in load.pieces):
            return None
        one = self.day.batches[batch]
        together = self._jars_in(load)
        together[one.jar] = together.get(one.jar, 0) + room
        if len(together) > 2:
            return None
        if len(together) > 1 and not fits(
            self.day.canners[option.canner], together, process_minutes=load.option.family[2]
        ):
            return None
        boil = load.start - one.kettle_minutes
        prep = self._prep(one, room, boil)
        if prep is None or not self._table_holds(load, {one.jar: room}):
            return None
        kettle: int | None = None
        if one.kettle_minutes:
            kettle = next(
                (n for n, mask in self._kettles(one, load.option, room).items() if mask >> load.start & 1),
                None,
            )
            if kettle is None:
                return None
        return Piece(batch, option, room, prep if prep[1] > prep[0] else None, self.prep_hands, kettle)

    def _add_piece(self, load: Placed, piece: Piece) -> None:
        self._known.clear()
        batch = self.day.batches[piece.batch]
        if piece.prep is not None:
            self.have.take_hands(StationKind.PREP, *piece.prep, self.prep_hands, adults=False)
        if piece.kettle is not None:
            boil = load.start - batch.kettle_minutes
            self.have.take_hands(StationKind.KETTLE, boil, load.start, 1, adults=True)
            taken = block(boil, load.start + load.option.fill)
            self.have.kettles[piece.kettle] &= ~taken
            burner = self.day.kettles[piece.kettle].burner_id
            if burner is not None:
                self.have.burners[burner] &= ~taken
        if load.table is not None:
            stand = self.day.policy.cooling_stand_minutes
            self.have.tables[load.table].append(
                (load.out, load.out + stand, area_sq_in({batch.jar: piece.jars}))
            )
        load.pieces.append(piece)

    def _jars_in(self, load: Placed) -> dict[JarSize, int]:
        jars: dict[JarSize, int] = {}
        for piece in load.pieces:
            size = self.day.batches[piece.batch].jar
            jars[size] = jars.get(size, 0) + piece.jars
        return jars

    def _prep(self, batch: Batch, jars: int, latest: int) -> tuple[int, int] | None:
        """The earliest prep, ending by ``latest``; an empty stretch at the arrival when nothing is left to
        prepare.
        """
        if batch.prep_person_minutes_per_jar == 0:
            return (batch.arrival, batch.arrival) if batch.arrival <= latest else None
        if self.prep_hands == 0:
            return None
        minutes = prep_minutes(batch.prep_person_minutes_per_jar, jars, self.prep_hands)
        start = first_from(self._hand_starts(StationKind.PREP, self.prep_hands, minutes), batch.arrival)
        if start is None or start + minutes > latest:
            return None
        return (start, start + minutes)

    def _vessel_starts(self, option: Option) -> int:
        """When the fill could begin, as far as the canner and its burner go."""
        free = self.have.canners[option.canner] & self.have.burners[self.day.canners[option.canner].burner_id]
        return beginnings(free, option.minutes)

    def _hands_starts(self, option: Option) -> int:
        """When the fill could begin, as far as hands to fill and to unload go."""
        unload = self.day.policy.unloading_minutes
        fill = self._hand_starts(StationKind.FILL, option.fill_hands, option.fill)
        return fill & shifted(self._hand_starts(StationKind.COOLING, 1, unload), unload - option.minutes)

    def _meat_starts(self, option: Option) -> int:
        """When the fill could begin, so that cleaning finds hands and the cut-off is kept (rule S15)."""
        policy = self.day.policy
        clean = self.have.canners[option.canner] & ~(self.have.all.unfit(1) | self.have.adults.unfit(1))
        can = shifted(beginnings(clean, policy.cleaning_minutes), -option.minutes)
        if policy.meat_cut_off is not None:
            can &= block(0, policy.meat_cut_off - option.minutes + 1)
        return can

    def _watch_starts(self, option: Option) -> int:
        """When the fill could begin, so that one trained person can stay from heat on to heat off (rule S9)."""
        key = ("watch", option.watch_minutes)
        if key not in self._known:
            seen = 0
            for watcher in self.have.watchers:
                seen |= beginnings(self.have.watch_minutes(watcher), option.watch_minutes)
            self._known[key] = seen
        return shifted(self._known[key], -option.heat_on)

    def _watcher(self, option: Option, start: int) -> Watcher:
        """Who watches a load that begins there: someone already at a canner before someone who is not."""
        heat_on = start + option.heat_on
        need = block(heat_on, heat_on + option.watch_minutes)
        able = [one for one in self.have.watchers if not need & ~self.have.watch_minutes(one)]
        return min(able, key=lambda one: (need & ~one.watching.at_least[0]).bit_count())

    def _hand_starts(self, kind: StationKind, hands: int, minutes: int) -> int:
        """When a stretch of so many hands at a station can begin; remembered until the next load is placed."""
        key = (kind.value, hands, minutes)
        if key not in self._known:
            adults = kind in _ADULTS_ONLY
            self._known[key] = beginnings(self.have.free_hands(kind, hands, adults=adults), minutes)
        return self._known[key]

    def _kettles(self, batch: Batch, option: Option, jars: int) -> dict[int | None, int]:
        """For each kettle that is large enough, when the fill could begin; everywhere with no kettle for raw
        pack.
        """
        cook = batch.kettle_minutes
        if cook == 0:
            return {None: -1}
        need_qt = jars * SHAPES[batch.jar].volume_qt
        hands = self._hand_starts(StationKind.KETTLE, 1, cook)
        on_canner = self.day.canners[option.canner].burner_id
        starts: dict[int | None, int] = {}
        for number, kettle in enumerate(self.day.kettles):
            if kettle.volume_qt + 1e-9 >= need_qt and kettle.burner_id != on_canner:
                free = self.have.kettles[number]
                if kettle.burner_id is not None:
                    free &= self.have.burners[kettle.burner_id]
                starts[number] = shifted(hands & beginnings(free, cook + option.fill), cook)
        return starts

    def _with_table(
        self, can: int, ready: int, minutes: int, jars: dict[JarSize, int]
    ) -> tuple[int | None, int | None]:
        """The first start after which the jars find a cooling table, and the table; no table where none is
        listed.
        """
        start = first_from(can, ready)
        if not self.day.tables:
            return start, None
        stand = self.day.policy.cooling_stand_minutes
        area = area_sq_in(jars)
        while start is not None:
            out = start + minutes
            table = self.have.table_for(self.day, Span(out, out + stand), area)
            if table is not None:
                return start, table
            ends = [end for uses in self.have.tables for _, end, _ in uses if end > out]
            start = first_from(can, max(min(ends) - minutes, start + 1)) if ends else None
        return None, None

    def _table_holds(self, load: Placed, jars: dict[JarSize, int]) -> bool:
        if load.table is None:
            return True
        span = Span(load.out, load.out + self.day.policy.cooling_stand_minutes)
        used = self.have.most_used(load.table, span)
        return used + area_sq_in(jars) <= self.day.tables[load.table].area_sq_in + 1e-9


def _late(day: Day, loads: Sequence[Placed]) -> list[int]:
    last_out = [0] * len(day.batches)
    for load in loads:
        for piece in load.pieces:
            last_out[piece.batch] = max(last_out[piece.batch], load.out)
    return [max(0, out - batch.pickup) for out, batch in zip(last_out, day.batches, strict=True)]


def _score(loads: Sequence[Placed], left: Sequence[int], late: Sequence[int]) -> Score:
    by_canner: dict[int, list[Placed]] = {}
    for load in sorted(loads, key=lambda load: load.start):
        by_canner.setdefault(load.option.canner, []).append(load)
    changes = sum(
        before.option.family != after.option.family
        for row in by_canner.values()
        for before, after in itertools.pairwise(row)
    )
    return (
        sum(left),
        sum(late),
        max((load.out for load in loads), default=0),
        sum(load.option.minutes for load in loads),
        len(loads),
        changes,
    )
