"""What a new plan changes for people, in words: loads, tasks, batches, jars left out, canners."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from scheduler.day_clock import clock_words
from scheduler.foods import find_food
from scheduler.plan import Assignment, LeftOut, Load, Plan, Task, TaskKind
from scheduler.problem import Batch, Day

A_FEW_MINUTES = 5
"""A change of so many minutes is nothing to tell people."""

_DOES: Mapping[TaskKind, str] = {
    TaskKind.PREP: "prepares",
    TaskKind.KETTLE: "cooks",
    TaskKind.FILL: "fills",
    TaskKind.WATCH: "watches",
    TaskKind.CLEANING: "cleans",
    TaskKind.COOLING: "lifts out",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Sentences, the ones that matter first in each list; all empty when nothing changes for anybody.

    ``loads`` are moved, new or dropped, or come out at another time; ``people`` have other tasks; ``batches`` are out
    later or earlier; ``left_out`` are jars that have no place any more, or have one now; ``canners`` are free sooner,
    or needed longer.
    """

    loads: tuple[str, ...]
    people: tuple[str, ...]
    batches: tuple[str, ...]
    left_out: tuple[str, ...]
    canners: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """True when the new plan changes nothing that people would notice."""
        return not (self.loads or self.people or self.batches or self.left_out or self.canners)


def pairs(before: Plan, after: Plan) -> dict[str, str]:
    """Which load of the new plan goes on as which of the one before: new ids to old ids.

    The same id is the same load when they share a batch. Of the others, those that share most jars go together, on the
    same canner before others, the nearest in time first.
    """
    old = {load.id: load for load in before.loads}
    found = {load.id: load.id for load in after.loads if load.id in old and _shared(old[load.id], load) > 0}
    rest = [load for load in before.loads if load.id not in found]
    ranked = sorted(
        (one.canner_id != load.canner_id, -_shared(one, load), _apart(one, load), one.id, load.id)
        for load in after.loads
        if load.id not in found
        for one in rest
        if _shared(one, load) > 0
    )
    taken: set[str] = set()
    for _, _, _, old_id, new_id in ranked:
        if old_id not in taken and new_id not in found:
            found[new_id] = old_id
            taken.add(old_id)
    return found


def difference(day_before: Day, before: Plan, day: Day, after: Plan) -> Difference:
    """What ``after`` changes against ``before``, for whoever decides whether to publish it."""
    told = _Told(day_before, before, day, after)
    return Difference(
        loads=tuple(told.loads()),
        people=tuple(told.people()),
        batches=tuple(told.batches()),
        left_out=tuple(told.left_out()),
        canners=tuple(told.canners()),
    )


def difference_text(found: Difference) -> str:
    """The difference as plain text."""
    if found.is_empty:
        return "Nothing changes.\n"
    sections = (
        ("LOADS", found.loads),
        ("BATCHES", found.batches),
        ("LEFT OUT", found.left_out),
        ("PEOPLE", found.people),
        ("CANNERS", found.canners),
    )
    return "\n".join(
        f"{title}\n{''.join(f'  {words}{chr(10)}' for words in lines)}" for title, lines in sections if lines
    )


class _Told:
    """The two plans with what the sentences need of them."""

    def __init__(self, day_before: Day, before: Plan, day: Day, after: Plan) -> None:
        self._before, self._day, self._after = before, day, after
        self._batches: dict[str, Batch] = {batch.id: batch for batch in (*day_before.batches, *day.batches)}
        self._names = {canner.id: canner.name for canner in (*day_before.canners, *day.canners)}
        self._pairs = pairs(before, after)
        self._fills = (_fills(before), _fills(after))
        self._now = 0 if day.floor is None else day.floor.now

    def loads(self) -> Iterator[str]:
        old = {load.id: load for load in self._before.loads}
        lost = {} if self._day.floor is None else {one.load_id: one for one in self._day.floor.lost}
        for load in self._after.loads:
            if load.id not in self._pairs:
                yield f"New: {self._load(load)} in {self._canner(load)}, filled from {self._filled(1, load)}."
            elif (words := self._moved(old[self._pairs[load.id]], load)) is not None:
                yield words
        gone = set(self._pairs.values())
        for load in self._before.loads:
            if load.id in lost:
                yield f"Lost: {self._load(load)} in {self._canner(load)}. {lost[load.id].reason}"
            elif load.id not in gone:
                yield f"Dropped: {self._load(load)} in {self._canner(load)} at {self._filled(0, load)}."

    def people(self) -> Iterator[str]:
        names = {person.id: person.name for person in self._day.people}
        was, now = self._work(self._before, self._same_id), self._work(self._after, self._old_id)
        for person in self._day.people:
            before, after = was.get(person.id, {}), now.get(person.id, {})
            if before and all(span.end <= self._now for span in person.hours):
                yield f"{names[person.id]} has gone home: {len(before)} tasks go to others or fall away."
                continue
            changes = [
                *(f"now {_DOES[key[0]]} {what}" for key, (what, _) in after.items() if key not in before),
                *(
                    f"{_DOES[key[0]]} {what} instead of at {clock_words(self._day, before[key][1])}"
                    for key, (what, start) in after.items()
                    if key in before and abs(before[key][1] - start) > A_FEW_MINUTES
                ),
                *(
                    f"no longer {_DOES[key[0]]} {what}"
                    for key, (what, _) in before.items()
                    if key not in after
                ),
            ]
            if changes:
                yield f"{names[person.id]}: {'; '.join(changes)}."

    def batches(self) -> Iterator[str]:
        was, now = _last_out(self._before.loads), _last_out(self._after.loads)
        had_left, left = _jars_left(self._before.left_out), _jars_left(self._after.left_out)
        later = sorted(
            (was[batch_id] - out, batch_id)
            for batch_id, out in now.items()
            if batch_id in was
            and abs(out - was[batch_id]) > A_FEW_MINUTES
            # With jars left out, the last of the others out is no good news.
            and (out > was[batch_id] or left.get(batch_id, 0) <= had_left.get(batch_id, 0))
        )
        for by, batch_id in later:
            batch, out = self._batches[batch_id], now[batch_id]
            late = f", {out - batch.pickup} min after the pick-up" if out > batch.pickup else ""
            yield (
                f"{self._batch(batch_id)}: out at {self._clock(out)} instead of {self._clock(was[batch_id])}, "
                f"{abs(by)} min {'later' if by < 0 else 'earlier'}{late}."
            )

    def left_out(self) -> Iterator[str]:
        was, now = _jars_left(self._before.left_out), _jars_left(self._after.left_out)
        for none in self._after.left_out:
            more = now[none.batch_id] - was.get(none.batch_id, 0)
            if more > 0:
                yield f"{min(more, none.jars)} more jars of {self._batch(none.batch_id)}: {none.reason} {none.remedy}"
        for batch_id, jars in was.items():
            fewer = jars - now.get(batch_id, 0)
            if fewer > 0 and any(batch.id == batch_id for batch in self._day.batches):
                yield f"{fewer} jars of {self._batch(batch_id)} that were left out have a place now."

    def canners(self) -> Iterator[str]:
        for canner in self._day.canners:
            was, now = _free_from(self._before, canner.id), _free_from(self._after, canner.id)
            in_use = any(span.end > self._now for span in canner.service)
            if was is not None and was > self._now and not in_use:
                yield f"{canner.name}: out of use; nothing more is planned on it."
            elif now is None and was is not None:
                yield f"{canner.name}: free all day."
            elif was is not None and now is not None and abs(was - now) > A_FEW_MINUTES:
                sooner = "free" if now < was else "needed"
                word = "from" if now < was else "until"
                yield f"{canner.name}: {sooner} {word} {self._clock(now)} instead of {self._clock(was)}."
            elif was is None and now is not None:
                yield f"{canner.name}: needed until {self._clock(now)}; it was free."

    def _moved(self, old: Load, load: Load) -> str | None:
        start, was = self._fills[1][load.id], self._fills[0][old.id]
        begun = self._day.floor is not None and any(one.load.id == load.id for one in self._day.floor.begun)
        if begun:
            if abs(load.jars_out - old.jars_out) <= A_FEW_MINUTES or load.jars_out <= self._now:
                return None
            return (
                f"Under way: {self._load(load)} in {self._canner(load)} comes out at {self._clock(load.jars_out)} "
                f"instead of {self._clock(old.jars_out)}."
            )
        if load.canner_id != old.canner_id:
            return (
                f"Moved: {self._load(load)} from {self._canner(old)} at {self._clock(was)} to {self._canner(load)} at "
                f"{self._clock(start)}."
            )
        if abs(start - was) > A_FEW_MINUTES:
            return f"Moved: {self._load(load)} in {self._canner(load)} from {self._clock(was)} to {self._clock(start)}."
        jars = load.jars - old.jars
        if jars:
            more = "more" if jars > 0 else "fewer"
            return f"Changed: {self._load(load)} in {self._canner(load)}, {abs(jars)} jars {more}."
        return None

    def _work(
        self, plan: Plan, named: Mapping[str, str]
    ) -> dict[str, dict[tuple[TaskKind, str, str], tuple[str, int]]]:
        """By person what each has to do from now on: kind, load and batch, then in words and from when."""
        tasks = {task.id: task for task in plan.tasks}
        loads = {load.id: load for load in plan.loads}
        found: dict[str, dict[tuple[TaskKind, str, str], tuple[str, int]]] = {}
        for one in sorted(plan.assignments, key=lambda each: each.start):
            task = tasks[one.task_id]
            if one.end > self._now:
                key = (task.kind, named.get(task.load_id, task.load_id), task.batch_id or "")
                row = found.setdefault(one.person_id, {})
                row.setdefault(key, (self._task(task, loads[task.load_id], one), one.start))
        return found

    @property
    def _old_id(self) -> Mapping[str, str]:
        return self._pairs

    @property
    def _same_id(self) -> Mapping[str, str]:
        return {}

    def _task(self, task: Task, load: Load, one: Assignment) -> str:
        what = self._batch(task.batch_id) if task.batch_id else self._load(load)
        if task.kind in (TaskKind.WATCH, TaskKind.CLEANING):
            what = self._canner(load)
        return f"{what} from {self._clock(max(one.start, self._now))}"

    def _load(self, load: Load) -> str:
        return " and ".join(
            f"{portion.jars} jars of {self._batch(portion.batch_id)}" for portion in load.portions
        )

    def _batch(self, batch_id: str) -> str:
        batch = self._batches.get(batch_id)
        if batch is None:
            return f"batch {batch_id}, which is not brought any more"
        # The first words of a printed name tell it from the others of a day, with the member's.
        return f"{find_food(batch.food_id).name.split(',')[0]} ({batch.member})"

    def _canner(self, load: Load) -> str:
        return self._names[load.canner_id]

    def _filled(self, which: int, load: Load) -> str:
        return self._clock(self._fills[which][load.id])

    def _clock(self, minute: int) -> str:
        return clock_words(self._day, minute)


def _fills(plan: Plan) -> dict[str, int]:
    starts = {load.id: load.phases[0].start for load in plan.loads}
    for task in plan.tasks:
        if task.kind is TaskKind.FILL and task.load_id in starts:
            starts[task.load_id] = min(task.start, starts[task.load_id])
    return starts


def _shared(old: Load, new: Load) -> int:
    jars = {portion.batch_id: portion.jars for portion in old.portions}
    return sum(min(portion.jars, jars.get(portion.batch_id, 0)) for portion in new.portions)


def _apart(old: Load, new: Load) -> int:
    return abs(old.phases[0].start - new.phases[0].start)


def _last_out(loads: Sequence[Load]) -> dict[str, int]:
    out: dict[str, int] = {}
    for load in loads:
        for portion in load.portions:
            out[portion.batch_id] = max(load.jars_out, out.get(portion.batch_id, 0))
    return out


def _jars_left(left_out: Iterable[LeftOut]) -> dict[str, int]:
    jars: dict[str, int] = {}
    for none in left_out:
        jars[none.batch_id] = jars.get(none.batch_id, 0) + none.jars
    return jars


def _free_from(plan: Plan, canner_id: str) -> int | None:
    return max((load.jars_out for load in plan.loads if load.canner_id == canner_id), default=None)
