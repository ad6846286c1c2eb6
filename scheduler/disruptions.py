"""Made-up disruptions of a planned day, for measuring: the same seed always gives the same one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from random import Random
from typing import TypeVar

from scheduler.cycle import PhaseKind
from scheduler.errors import BadDay
from scheduler.floor import Floor, Lost
from scheduler.floor_record import Record, floor_of, lost_load
from scheduler.interval import Span, intersect
from scheduler.plan import Load, Phase, Plan, TaskKind
from scheduler.problem import Batch, Day, Person

_Thing = TypeVar("_Thing")

# Now lies so many minutes after opening.
_NOW_FROM, _NOW_TO = 180, 360
# A heat-up that goes well takes a fifth less; one that goes badly half an hour more.
_QUICKER, _SLOWER_MINUTES = 0.2, 30
_LATER_MINUTES = 60
_MORE_SHARE = 0.3


class Disruption(StrEnum):
    """What happens to a day under way."""

    FINISHED_EARLY = "finished early"
    AS_PLANNED = "running as planned"
    RESTARTED = "restarted after a pressure loss"
    DELAYED = "delayed"
    CANNER_FAILED = "canner failed"
    PERSON_GONE = "person gone home"
    MORE_PRODUCE = "more produce than declared"
    LATE_MEMBER = "member arrives late"


@dataclass(frozen=True, slots=True, kw_only=True)
class Disrupted:
    """The day as it stands now, and what happened in words."""

    day: Day
    what: str


def disrupt(day: Day, plan: Plan, disruption: Disruption, seed: int) -> Disrupted:
    """The planned day with one disruption. ``BadDay`` when the plan holds nothing that this could happen to."""
    # Not for secrets: the seed must bring the same disruption back.
    random = Random(f"{seed}/{disruption}")  # noqa: S311 - repeatable, no secret
    return _Scene(day, plan, random).happens(disruption)


class _Scene:
    """A planned day at some minute."""

    def __init__(self, day: Day, plan: Plan, random: Random) -> None:
        self._day, self._plan, self._random = day, plan, random
        opens = min(span.start for span in day.opening)
        self._now = opens + random.randint(_NOW_FROM, _NOW_TO)

    def happens(self, disruption: Disruption) -> Disrupted:
        match disruption:
            case Disruption.AS_PLANNED:
                return self._disrupted(self._day, self._records(), "everything runs as planned")
            case Disruption.FINISHED_EARLY:
                return self._quicker()
            case Disruption.DELAYED:
                return self._slower()
            case Disruption.RESTARTED:
                return self._restarted()
            case Disruption.CANNER_FAILED:
                return self._canner_failed()
            case Disruption.PERSON_GONE:
                return self._person_gone()
            case Disruption.MORE_PRODUCE:
                return self._more_produce()
            case Disruption.LATE_MEMBER:
                return self._late_member()

    def _disrupted(
        self, day: Day, records: Mapping[str, Record], what: str, lost: Iterable[Lost] = ()
    ) -> Disrupted:
        floor: Floor = floor_of(day, self._plan, self._now, records, lost)
        return Disrupted(day=replace(day, floor=floor), what=what)

    def _records(self, later: Mapping[str, int] | None = None) -> dict[str, Record]:
        """Everything as planned; the heat-up of a load in ``later`` took so many minutes more or, below 0, less."""
        fills = {task.load_id: task.start for task in self._plan.tasks if task.kind is TaskKind.FILL}
        return {
            load.id: Record(ended=self._ended(load, (later or {}).get(load.id, 0)))
            for load in self._plan.loads
            if fills[load.id] <= self._now
        }

    def _ended(self, load: Load, later: int) -> dict[PhaseKind, int]:
        ends = {
            phase.kind: phase.end + (0 if phase.kind is PhaseKind.LOADING else later) for phase in load.phases
        }
        return {kind: end for kind, end in ends.items() if end <= self._now}

    def _quicker(self) -> Disrupted:
        """A load past its heat-up that was quicker to heat than expected."""
        load, heat_up = self._soonest(
            "hot load", lambda: [found for found in self._in(PhaseKind.HEAT_UP) if found[1].end <= self._now]
        )
        by = int((heat_up.end - heat_up.start) * _QUICKER)
        return self._disrupted(self._day, self._records({load.id: -by}), f"load {load.id} is {by} min early")

    def _slower(self) -> Disrupted:
        """A load that took long to heat; one that is still in the canner for long enough to be in somebody's way."""
        load, _ = self._soonest(
            "load that could be late",
            lambda: [
                found for found in self._in(PhaseKind.HEAT_UP) if found[1].end + _SLOWER_MINUTES <= self._now
            ],
        )
        records = self._records({load.id: _SLOWER_MINUTES})
        return self._disrupted(self._day, records, f"load {load.id} is {_SLOWER_MINUTES} min late")

    def _in(self, kind: PhaseKind) -> Iterator[tuple[Load, Phase]]:
        """The loads in a canner now, with their phase of this kind."""
        for load in self._plan.loads:
            phase = load.phase(kind)
            if phase is not None and load.span.start <= self._now < load.span.end:
                yield load, phase

    def _soonest(self, what: str, find: Callable[[], list[tuple[Load, Phase]]]) -> tuple[Load, Phase]:
        """One of what there is now, or at the first minute after now at which there is any."""
        last = max(load.jars_out for load in self._plan.loads)
        while not (found := find()) and self._now < last:
            self._now += 1
        return self._one_of(found, what)

    def _restarted(self) -> Disrupted:
        """Somewhere in a process pressure or boil was lost, and reached again five minutes later."""
        load, process = self._soonest(
            "load at pressure or at a boil",
            lambda: [
                found for found in self._in(PhaseKind.PROCESS) if found[1].start < self._now < found[1].end
            ],
        )
        records = self._records()
        lost = self._random.randint(process.start, self._now)
        reached = min(self._now, lost + 5)
        records[load.id] = replace(records[load.id], lost=(lost,), reached=reached)
        return self._disrupted(
            self._day, records, f"load {load.id} began its process anew at minute {reached}"
        )

    def _canner_failed(self) -> Disrupted:
        used = sorted({load.canner_id for load in self._plan.loads if load.jars_out > self._now})
        canner_id = self._one_of(used, "canner in use")
        name = next(canner.name for canner in self._day.canners if canner.id == canner_id)
        records = self._records()
        lost = []
        for load in self._plan.loads:
            process = load.phase(PhaseKind.PROCESS)
            if (
                load.canner_id == canner_id
                and load.id in records
                and process is not None
                and process.end > self._now
            ):
                del records[load.id]
                lost.append(lost_load(self._plan, load.id, f"{name} failed.", is_fill_known=True))
        until = (Span(min(span.start for span in self._day.opening), self._now),)
        canners = tuple(
            replace(one, service=intersect(one.service, until)) if one.id == canner_id else one
            for one in self._day.canners
        )
        return self._disrupted(replace(self._day, canners=canners), records, f"{canner_id} failed", lost)

    def _person_gone(self) -> Disrupted:
        here = [
            person
            for person in self._day.people
            if any(span.start < self._now < span.end for span in person.hours)
        ]
        gone = self._one_of(here, "person at work")
        people = tuple(self._until_now(one) if one.id == gone.id else one for one in self._day.people)
        return self._disrupted(replace(self._day, people=people), self._records(), f"{gone.name} went home")

    def _until_now(self, person: Person) -> Person:
        hours = tuple(
            Span(one.start, min(one.end, self._now)) for one in person.hours if one.start < self._now
        )
        return replace(person, hours=hours)

    def _more_produce(self) -> Disrupted:
        batch = self._one_of(self._to_come(), "batch that is not in canners yet")
        jars = batch.jars + max(1, int(batch.jars * _MORE_SHARE))
        day = self._with_batch(replace(batch, jars=jars))
        return self._disrupted(day, self._records(), f"{batch.id} has {jars} jars, not {batch.jars}")

    def _late_member(self) -> Disrupted:
        expected = [batch for batch in self._to_come() if batch.arrival >= self._now]
        if not expected:
            soonest = max(batch.arrival for batch in self._day.batches)
            self._now = soonest
            expected = [batch for batch in self._day.batches if batch.arrival == soonest]
        batch = self._one_of(expected, "member still expected")
        arrival = batch.arrival + _LATER_MINUTES
        day = self._with_batch(replace(batch, arrival=arrival, pickup=max(batch.pickup, arrival + 1)))
        return self._disrupted(day, self._records(), f"{batch.id} arrives {_LATER_MINUTES} min later")

    def _to_come(self) -> list[Batch]:
        begun = {
            portion.batch_id
            for load in self._plan.loads
            if load.id in self._records()
            for portion in load.portions
        }
        return [batch for batch in self._day.batches if batch.id not in begun]

    def _with_batch(self, changed: Batch) -> Day:
        return replace(
            self._day,
            batches=tuple(changed if batch.id == changed.id else batch for batch in self._day.batches),
        )

    def _one_of(self, things: Sequence[_Thing], what: str) -> _Thing:
        if not things:
            raise BadDay(f"There is no {what} at this minute.", remedy="Take another seed.")
        return self._random.choice(things)
