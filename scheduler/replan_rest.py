"""The jars of a day under way that have no place any more, searched for around the loads that keep theirs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from scheduler.floor import Floor
from scheduler.plan import Load, Plan, TaskKind
from scheduler.problem import Batch, Day
from scheduler.search.decode import Decoder
from scheduler.search.improve import improve
from scheduler.search.keep import Keeper, Kept
from scheduler.search.options import Options, options_of
from scheduler.search.placed import Decoded, Gene, Placed
from scheduler.search.resources import Resources

MOVED_BEYOND_MINUTES = 5
"""A load on the same canner whose filling begins within so many minutes of what was planned has not moved."""

# Places looked at for each batch that is searched for: at first thoroughly, then for each further try.
EFFORT_AT_FIRST = 4000
EFFORT_PER_TRY = 1000
_UNREACHABLE = (0, 0, 0, 0, 0, 0)

Score = tuple[int, ...]
"""Jars left out, minutes late, loads moved, last jar out, canner time, loads, changeovers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The day of the jars that were searched for alone: its question, its options and what the search made of it."""

    day: Day
    options: Options
    decoded: Decoded


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """A day put together again: the loads that stay, those let go, and where the jars of those went.

    ``moved`` are the ids of loads that are elsewhere now, or gone; ``worse_off`` the batches that are later, or miss
    more jars, than the plan before had it.
    """

    kept: Mapping[str, Kept]
    released: tuple[Load, ...]
    found: Found | None
    score: Score
    moved: frozenset[str]
    worse_off: frozenset[str]


class Rest:
    """Searches for places around whatever loads are kept. What does not change from search to search is kept here."""

    def __init__(self, day: Day, floor: Floor, before: Plan, fresh: Resources, keeper: Keeper) -> None:
        self._day, self._floor, self._before = day, floor, before
        self._fresh, self._keeper = fresh, keeper
        self._fills = {task.load_id: task.start for task in before.tasks if task.kind is TaskKind.FILL}
        held = list(floor.held(day.policy.fill_wait_limit_minutes))
        self._held = {
            batch.id: sum(jars.jars for _, jars in held if jars.batch_id == batch.id) for batch in day.batches
        }
        self._promised_out = _last_out(before.loads)
        self._promised_left = _by_batch((one.batch_id, one.jars) for one in before.left_out)
        self._begun_out = _last_out([one.load for one in floor.begun])
        self._options: dict[str, Options] = {}

    def restore(
        self, kept: Mapping[str, Kept], released: Sequence[Load], seed: int, *, effort_per_batch: int
    ) -> Restored:
        """The best day found with these loads kept. The effort counts places looked at."""
        have = self._fresh.copy()
        for one in kept.values():
            self._keeper.take(have, one)
        asked = self._asked(kept)
        found = self._search(asked, have, released, seed, effort_per_batch) if asked else None
        return self._restored(kept, released, found)

    def in_the_way(self, one: Kept, batch_id: str) -> float:
        """How little a load stands in the way of a batch: less than 1 on a canner it could use while it waits."""
        batch = next(batch for batch in self._day.batches if batch.id == batch_id)
        canners = {self._day.canners[option.canner].id for option in self._of(batch).by_batch[0]}
        waits_from = max(batch.arrival, self._floor.now)
        near = waits_from <= one.taken.start <= max(batch.pickup, waits_from)
        return (
            0.1 if near and one.load.canner_id in canners else 1.0 if one.load.canner_id in canners else 10.0
        )

    def _of(self, batch: Batch) -> Options:
        if batch.id not in self._options:
            self._options[batch.id] = options_of(replace(self._day, batches=(batch,), floor=None))
        return self._options[batch.id]

    def _asked(self, kept: Mapping[str, Kept]) -> list[Batch]:
        """The batches with jars that have no place, each as of now: prepared already, or arrived long ago."""
        placed = _by_batch(
            (portion.batch_id, portion.jars) for one in kept.values() for portion in one.load.portions
        )
        prepared_for = _by_batch(
            (task.batch_id or "", jars.jars)
            for one in kept.values()
            for task in one.tasks
            for jars in self._floor.prepared
            if jars.task == task and task.kind is TaskKind.PREP and task.end <= self._floor.now
        )
        asked = []
        for batch in self._day.batches:
            jars = (
                batch.jars - self._floor.in_canners(batch.id) - self._held[batch.id] - placed.get(batch.id, 0)
            )
            if jars > 0:
                ready = self._floor.ready(batch.id) - prepared_for.get(batch.id, 0)
                asked.append(self._as_of_now(batch, jars, is_ready=ready >= jars))
        return asked

    def _as_of_now(self, batch: Batch, jars: int, *, is_ready: bool) -> Batch:
        arrival = max(batch.arrival, self._floor.now)
        return replace(
            batch,
            jars=jars,
            arrival=arrival,
            pickup=max(batch.pickup, arrival + 1),
            prep_person_minutes_per_jar=0.0 if is_ready else batch.prep_person_minutes_per_jar,
        )

    def _search(
        self,
        asked: Sequence[Batch],
        have: Resources,
        released: Sequence[Load],
        seed: int,
        effort_per_batch: int,
    ) -> Found:
        day = replace(self._day, batches=tuple(asked), floor=None)
        options = self._together(asked)
        decoder = Decoder(day, options, have)
        start = min(
            (decoder.decode(order) for order in self._orders(day, released)), key=lambda one: one.score
        )
        outcome = improve(
            decoder,
            start,
            seed=seed,
            effort=effort_per_batch * len(asked),
            least=_UNREACHABLE,
            stop=lambda: None,
            on_better=lambda best, tries: None,
        )
        return Found(day=day, options=options, decoded=outcome.best)

    def _together(self, asked: Sequence[Batch]) -> Options:
        """The options of these batches, numbered as they come."""
        originals = {batch.id: batch for batch in self._day.batches}
        rows = [self._of(originals[batch.id]) for batch in asked]
        return Options(
            by_batch=tuple(
                tuple(replace(option, batch=number) for option in row.by_batch[0])
                for number, row in enumerate(rows)
            ),
            refusals=tuple(row.refusals[0] for row in rows),
            out_of_service=rows[0].out_of_service,
        )

    def _orders(self, day: Day, released: Sequence[Load]) -> list[list[Gene]]:
        """The order the plan before had them in, first on their own canners, then on any; and by pick-up."""
        numbers = {batch.id: number for number, batch in enumerate(day.batches)}
        canners = {canner.id: number for number, canner in enumerate(day.canners)}
        turns = [
            (numbers[portion.batch_id], canners.get(load.canner_id))
            for load in sorted(released, key=lambda one: self._fills.get(one.id, 0))
            for portion in load.portions
            if portion.batch_id in numbers
        ]
        missing: list[Gene] = [
            (number, None) for number in numbers.values() if number not in {turn[0] for turn in turns}
        ]
        by_pickup: list[Gene] = [
            (number, None) for number in sorted(numbers.values(), key=lambda one: day.batches[one].pickup)
        ]
        return [
            [*(turn for turn in turns if self._may(day, turn)), *missing],
            [*((batch, None) for batch, _ in turns), *missing],
            by_pickup,
        ]

    def _may(self, day: Day, turn: Gene) -> bool:
        row = self._options[day.batches[turn[0]].id].by_batch[0]
        return any(option.canner == turn[1] for option in row)

    def _restored(self, kept: Mapping[str, Kept], released: Sequence[Load], found: Found | None) -> Restored:
        out = dict(self._begun_out)
        for one in kept.values():
            for portion in one.load.portions:
                out[portion.batch_id] = max(one.load.jars_out, out.get(portion.batch_id, 0))
        left: dict[str, int] = {}
        if found is not None:
            for batch, jars in zip(found.day.batches, found.decoded.left, strict=True):
                left[batch.id] = jars
            for load in found.decoded.loads:
                for piece in load.pieces:
                    batch_id = found.day.batches[piece.batch].id
                    out[batch_id] = max(load.out, out.get(batch_id, 0))
        moved = frozenset(load.id for load in released if not self._is_there(load, found))
        score = (0, 0, 0, 0) if found is None else found.decoded.score[2:]
        return Restored(
            kept=kept,
            released=tuple(released),
            found=found,
            score=(sum(left.values()), self._lateness(out), len(moved), *score),
            moved=moved,
            worse_off=self._worse_off(out, left),
        )

    def _lateness(self, out: Mapping[str, int]) -> int:
        return sum(max(0, out.get(batch.id, 0) - batch.pickup) for batch in self._day.batches)

    def _worse_off(self, out: Mapping[str, int], left: Mapping[str, int]) -> frozenset[str]:
        """Batches later than their pick-up and than they were promised, or with more jars left out."""
        return frozenset(
            batch.id
            for batch in self._day.batches
            if out.get(batch.id, 0) > max(batch.pickup, self._promised_out.get(batch.id, 0))
            or left.get(batch.id, 0) > self._promised_left.get(batch.id, 0)
        )

    def _is_there(self, load: Load, found: Found | None) -> bool:
        """True when a load let go has come back to its place."""
        return found is not None and any(
            self._is_same(load, placed, found.day) for placed in found.decoded.loads
        )

    def _is_same(self, load: Load, placed: Placed, day: Day) -> bool:
        batches = {day.batches[piece.batch].id for piece in placed.pieces}
        start = self._fills.get(load.id, load.phases[0].start)
        return (
            day.canners[placed.option.canner].id == load.canner_id
            and abs(placed.start - start) <= MOVED_BEYOND_MINUTES
            and bool(batches & {portion.batch_id for portion in load.portions})
        )


def _last_out(loads: Sequence[Load]) -> dict[str, int]:
    out: dict[str, int] = {}
    for load in loads:
        for portion in load.portions:
            out[portion.batch_id] = max(load.jars_out, out.get(portion.batch_id, 0))
    return out


def _by_batch(counted: Iterable[tuple[str, int]]) -> Counter[str]:
    jars: Counter[str] = Counter()
    for batch_id, count in counted:
        jars[batch_id] += count
    return jars
