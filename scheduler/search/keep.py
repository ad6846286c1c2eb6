"""Loads that stay where they are: what they take is reserved before the rest is planned.

On a day under way that is what has begun, and every load not begun that still finds its place.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from scheduler.interval import Span
from scheduler.plan import Load, Stand, Task, TaskKind
from scheduler.problem import Day, StationKind
from scheduler.search.minutes import beginnings, block, first_from
from scheduler.search.resources import Resources, Watcher

_STATIONS: Mapping[TaskKind, tuple[StationKind, bool]] = {
    TaskKind.PREP: (StationKind.PREP, False),
    TaskKind.KETTLE: (StationKind.KETTLE, True),
    TaskKind.FILL: (StationKind.FILL, False),
    TaskKind.COOLING: (StationKind.COOLING, True),
}
"""Where each kind of work is done, and whether it is for adults only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A load with its work and who watches it, as an index in the day's people; None when nothing is left to watch."""

    load: Load
    tasks: tuple[Task, ...]
    watcher: int | None

    @property
    def taken(self) -> Span:
        """From the first jar filled to the last jar out."""
        fills = [task.start for task in self.tasks if task.kind is TaskKind.FILL]
        return Span(min([self.load.phases[0].start, *fills]), self.load.jars_out)


class Keeper:
    """Reserves loads in a day's resources, from minute ``now`` on."""

    def __init__(self, day: Day, now: int) -> None:
        self._day = day
        self._now = now
        self._canners = {canner.id: number for number, canner in enumerate(day.canners)}
        self._kettles = {kettle.id: number for number, kettle in enumerate(day.kettles)}
        self._tables = {table.id: number for number, table in enumerate(day.tables)}
        self._arrivals = {batch.id: batch.arrival for batch in day.batches}

    def take(self, have: Resources, kept: Kept) -> None:
        """Reserve a load that is known to fit, or that has begun and is a fact."""
        self._take_vessel(have, kept)
        for task in kept.tasks:
            self._take_task(have, kept, task)
        self._take_table(have, kept.load)

    def fit(self, have: Resources, kept: Kept, *, exactly: bool) -> tuple[Kept, Resources] | None:
        """The load at the same times, with whoever can watch it; unless ``exactly``, with its prep moved if it must be.

        Returned with the resources that are left; None when its place is gone.
        """
        if not self._has_vessel(have, kept):
            return None
        left = have.copy()
        self._take_vessel(left, kept)
        tasks: list[Task] = []
        for task in sorted(kept.tasks, key=lambda one: one.kind is TaskKind.PREP):
            found = self._task_at(left, kept, task, exactly=exactly)
            if found is None:
                return None
            tasks.append(found)
            if task.kind is not TaskKind.WATCH:
                self._take_task(left, kept, found)
        watcher = self.watcher(left, kept)
        if watcher is None:
            return None
        placed = self._on_table(left, kept.load)
        if placed is None:
            return None
        fitted = Kept(load=placed, tasks=tuple(tasks), watcher=watcher.index)
        self._take_watch(left, fitted, watcher)
        self._take_table(left, placed)
        return fitted, left

    def watcher(self, have: Resources, kept: Kept) -> Watcher | None:
        """Who can watch the load from now on: whoever was to, else someone already at a canner, else anyone."""
        need = self._watch_minutes(kept)
        able = [one for one in have.watchers if not need & ~have.watch_minutes(one)]
        return min(
            able,
            key=lambda one: (one.index != kept.watcher, (need & ~one.watching.at_least[0]).bit_count()),
            default=None,
        )

    def has_hands(self, have: Resources, task: Task) -> bool:
        """True when the hands for what is still to come of the task are free."""
        if task.kind is TaskKind.WATCH or task.end <= self._now:
            return True
        need = block(max(task.start, self._now), task.end)
        if task.kind is TaskKind.CLEANING:
            return not need & (have.all.unfit(task.hands) | have.adults.unfit(task.hands) | ~have.open)
        kind, adults = _STATIONS[task.kind]
        return not need & ~have.free_hands(kind, task.hands, adults=adults)

    def _task_at(self, have: Resources, kept: Kept, task: Task, *, exactly: bool) -> Task | None:
        if task.kind is TaskKind.KETTLE:
            return self._cooked(have, kept, task)
        if self.has_hands(have, task) and not self._too_early(task):
            return task
        may_move = task.kind is TaskKind.PREP and not exactly
        return self._prepared(have, kept, task) if may_move else None

    def _too_early(self, task: Task) -> bool:
        return task.batch_id is not None and task.start < self._arrivals.get(task.batch_id, 0)

    def _prepared(self, have: Resources, kept: Kept, task: Task) -> Task | None:
        """The prep at the first other time that leaves the load where it is."""
        minutes = task.end - task.start
        free = beginnings(have.free_hands(StationKind.PREP, task.hands, adults=False), minutes)
        start = first_from(free, max(self._now, self._arrivals.get(task.batch_id or "", 0)))
        due = min(
            (
                one.start
                for one in kept.tasks
                if one.kind is TaskKind.FILL
                or (one.kind is TaskKind.KETTLE and one.batch_id == task.batch_id)
            ),
            default=0,
        )
        if start is None or start + minutes > due:
            return None
        return replace(task, start=start, end=start + minutes)

    def _cooked(self, have: Resources, kept: Kept, task: Task) -> Task | None:
        if self._too_early(task) or not self.has_hands(have, task):
            return None
        need = self._kettle_minutes(kept, task)
        number = self._kettles.get(task.kettle_id or "")
        if number is None or need & ~have.kettles[number]:
            return None
        burner = self._day.kettles[number].burner_id
        return None if burner is not None and need & ~have.burners[burner] else task

    def _has_vessel(self, have: Resources, kept: Kept) -> bool:
        number = self._canners.get(kept.load.canner_id)
        if number is None or kept.taken.start < self._now:
            return False
        burner = self._day.canners[number].burner_id
        clean = block(kept.taken.start, self._clean_until(kept))
        return not (clean & ~have.canners[number]) and not (
            block(kept.taken.start, kept.taken.end) & ~have.burners[burner]
        )

    def _clean_until(self, kept: Kept) -> int:
        return max([kept.taken.end, *(one.end for one in kept.tasks if one.kind is TaskKind.CLEANING)])

    def _take_vessel(self, have: Resources, kept: Kept) -> None:
        number = self._canners[kept.load.canner_id]
        have.canners[number] &= ~block(kept.taken.start, self._clean_until(kept))
        have.burners[self._day.canners[number].burner_id] &= ~block(kept.taken.start, kept.taken.end)

    def _take_task(self, have: Resources, kept: Kept, task: Task) -> None:
        start = max(task.start, self._now)
        if task.kind is TaskKind.KETTLE:
            self._take_kettle(have, kept, task)
        if task.end <= start:
            return
        if task.kind is TaskKind.WATCH:
            watcher = next((one for one in have.watchers if one.index == kept.watcher), None)
            if watcher is not None:
                self._take_watch(have, kept, watcher)
        elif task.kind is TaskKind.CLEANING:
            have.all.add(block(start, task.end), task.hands)
            have.adults.add(block(start, task.end), task.hands)
        else:
            kind, adults = _STATIONS[task.kind]
            have.take_hands(kind, start, task.end, task.hands, adults=adults)

    def _take_watch(self, have: Resources, kept: Kept, watcher: Watcher) -> None:
        for task in kept.tasks:
            if task.kind is TaskKind.WATCH and task.end > self._now:
                have.take_watch(watcher, max(task.start, self._now), task.end)

    def _watch_minutes(self, kept: Kept) -> int:
        need = 0
        for task in kept.tasks:
            if task.kind is TaskKind.WATCH:
                need |= block(max(task.start, self._now), task.end)
        return need

    def _take_kettle(self, have: Resources, kept: Kept, task: Task) -> None:
        number = self._kettles.get(task.kettle_id or "")
        if number is None:
            return
        need = self._kettle_minutes(kept, task)
        have.kettles[number] &= ~need
        burner = self._day.kettles[number].burner_id
        if burner is not None:
            have.burners[burner] &= ~need

    def _kettle_minutes(self, kept: Kept, task: Task) -> int:
        """A kettle is taken until the filling from it is over."""
        end = max([task.end, *(one.end for one in kept.tasks if one.kind is TaskKind.FILL)])
        return block(max(task.start, self._now), end)

    def _on_table(self, have: Resources, load: Load) -> Load | None:
        """The load with a table that has room for its jars: its own, or another."""
        stand = load.stand
        if stand is None:
            return load if not self._day.tables else None
        order = sorted(self._tables.items(), key=lambda item: (item[0] != stand.table_id, item[1]))
        for table_id, number in order:
            used = have.most_used(number, Span(stand.start, stand.end))
            if used + stand.area_sq_in <= self._day.tables[number].area_sq_in + 1e-9:
                return replace(load, stand=replace(stand, table_id=table_id))
        return None

    def _take_table(self, have: Resources, load: Load) -> None:
        stand: Stand | None = load.stand
        if stand is not None and stand.table_id in self._tables:
            have.tables[self._tables[stand.table_id]].append((stand.start, stand.end, stand.area_sq_in))


def by_load(tasks: Sequence[Task]) -> dict[str, tuple[Task, ...]]:
    """The tasks of each load."""
    found: dict[str, list[Task]] = {}
    for task in tasks:
        found.setdefault(task.load_id, []).append(task)
    return {load_id: tuple(own) for load_id, own in found.items()}


def in_order(kept: Sequence[Kept]) -> Iterator[Kept]:
    """Loads by when their filling begins."""
    return iter(sorted(kept, key=lambda one: (one.taken.start, one.load.id)))
