"""What the member of one batch could do otherwise. No change touches a rule, a published figure or a policy."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from scheduler.jars import SHAPES, JarSize, Pack
from scheduler.problem import Batch, Day
from scheduler.wall_clock import wall_clock
from scheduler.what_if.edits import Deed, Edit
from scheduler.what_if.shared import batch_edit, batch_of, clock_of, with_batch
from scheduler.work import usual_work

DAY_MINUTES = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class PickUpLater:
    """The jars of a batch are picked up later."""

    kind: Literal["pick-up-later"] = "pick-up-later"
    batch_id: str
    pickup: int

    def apply(self, day: Day) -> Day:
        """The day with the later pick-up."""
        return with_batch(day, replace(batch_of(day, self.batch_id), pickup=self.pickup))

    def words(self, day: Day) -> str:
        """What the lead would do."""
        return f"Pick the jars up at {clock_of(day).words(self.pickup)}."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        return (batch_edit(self.batch_id, pickup=clock_of(day).written(self.pickup)),)


@dataclass(frozen=True, slots=True, kw_only=True)
class ArriveEarlier:
    """A batch is brought earlier."""

    kind: Literal["arrive-earlier"] = "arrive-earlier"
    batch_id: str
    arrival: int

    def apply(self, day: Day) -> Day:
        """The day with the earlier arrival."""
        return with_batch(day, replace(batch_of(day, self.batch_id), arrival=self.arrival))

    def words(self, day: Day) -> str:
        """What the lead would do."""
        return f"Bring the food at {clock_of(day).words(self.arrival)}."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        return (batch_edit(self.batch_id, arrives=clock_of(day).written(self.arrival)),)


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherJar:
    """A batch goes into another size of jar, as many as hold the same volume; the prep of a quart stays the same."""

    kind: Literal["other-jar"] = "other-jar"
    batch_id: str
    jar: JarSize

    def apply(self, day: Day) -> Day:
        """The day with the other jars."""
        batch = batch_of(day, self.batch_id)
        return with_batch(
            day,
            replace(
                batch,
                jar=self.jar,
                jars=self._jars(batch),
                prep_person_minutes_per_jar=round(batch.prep_person_minutes_per_jar / self._share(batch), 2),
            ),
        )

    def words(self, day: Day) -> str:
        """What the lead would do."""
        batch = batch_of(day, self.batch_id)
        return (
            f"Use {self._jars(batch)} {self.jar.words} jars instead of {batch.jars} {batch.jar.words} jars."
        )

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        changed = batch_of(self.apply(day), self.batch_id)
        return (
            batch_edit(
                self.batch_id,
                jar=changed.jar.value,
                amount=changed.jars,
                unit="jars",
                prep_person_minutes_per_jar=changed.prep_person_minutes_per_jar,
                kettle_minutes=changed.kettle_minutes,
            ),
        )

    def _share(self, batch: Batch) -> float:
        """How many of the other jars hold what one jar does now."""
        return SHAPES[batch.jar].volume_qt / SHAPES[self.jar].volume_qt

    def _jars(self, batch: Batch) -> int:
        return math.ceil(batch.jars * self._share(batch) - 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherPack:
    """A batch is packed raw instead of hot, or hot instead of raw, with the usual time in the kettle."""

    kind: Literal["other-pack"] = "other-pack"
    batch_id: str
    pack: Pack

    def apply(self, day: Day) -> Day:
        """The day with the other pack."""
        batch = batch_of(day, self.batch_id)
        usual = usual_work(batch.food_id, self.pack, batch.jar)
        return with_batch(day, replace(batch, pack=self.pack, kettle_minutes=usual.kettle_minutes))

    def words(self, day: Day) -> str:
        """What the lead would do."""
        return f"Pack it {self.pack} instead of {batch_of(day, self.batch_id).pack}."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        changed = batch_of(self.apply(day), self.batch_id)
        return (
            batch_edit(
                self.batch_id,
                pack=changed.pack.value,
                prep_person_minutes_per_jar=changed.prep_person_minutes_per_jar,
                kettle_minutes=changed.kettle_minutes,
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AnotherDay:
    """A batch comes on another day with the same hours, people and equipment, and is the only one then.

    ``all_day``: it comes at opening and is picked up at closing, otherwise at the hours it would have come today.
    """

    kind: Literal["another-day"] = "another-day"
    batch_id: str
    all_day: bool = False
    days: int = 1

    def apply(self, day: Day) -> Day:
        """The other day, on which the tables are free."""
        other = self._date(day)
        batch = batch_of(day, self.batch_id)
        if self.all_day:
            batch = replace(batch, arrival=day.opening[0].start, pickup=day.horizon)
        return replace(
            day,
            date=other,
            origin=wall_clock(other, day.time_zone).origin,
            batches=(batch,),
            tables=tuple(replace(table, taken=()) for table in day.tables),
        )

    def words(self, day: Day) -> str:
        """What the lead would do."""
        stay = ", from opening to closing" if self.all_day else ""
        return (
            f"Bring it on another day{stay}, for instance {self._date(day):%a %-d %b}, with the same hours, people and "
            "equipment and nothing else to can."
        )

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file, or in a copy of it for the other day."""
        batch, clock = batch_of(self.apply(day), self.batch_id), clock_of(day)
        hours = batch_edit(
            self.batch_id, arrives=clock.written(batch.arrival), pickup=clock.written(batch.pickup)
        )
        taken = tuple(table.id for table in day.tables if table.taken)
        return (
            Edit(table="kitchen", values=(("date", self._date(day).isoformat()),)),
            Edit(table="batch", entries=(self.batch_id,), deed=Deed.KEEP_ONLY),
            *((hours,) if self.all_day else ()),
            *((Edit(table="table", entries=taken, values=(("taken", "[]"),)),) if taken else ()),
        )

    def _date(self, day: Day) -> date:
        return day.date + timedelta(days=self.days)


@dataclass(frozen=True, slots=True, kw_only=True)
class NextDay:
    """A batch comes on the next day of a kitchen that plans several days at once."""

    kind: Literal["next-day"] = "next-day"
    batch_id: str

    def apply(self, day: Day) -> Day:
        """The days with the batch moved by one."""
        batch = batch_of(day, self.batch_id)
        moved = replace(batch, arrival=batch.arrival + DAY_MINUTES, pickup=batch.pickup + DAY_MINUTES)
        return with_batch(day, moved)

    def words(self, day: Day) -> str:
        """What the lead would do."""
        return f"Bring it a day later, {clock_of(day).words(batch_of(day, self.batch_id).arrival + DAY_MINUTES)}."

    def edits(self, day: Day) -> tuple[Edit, ...]:
        """The same in the day file."""
        moved, clock = batch_of(self.apply(day), self.batch_id), clock_of(day)
        return (
            batch_edit(
                self.batch_id, arrives=clock.written(moved.arrival), pickup=clock.written(moved.pickup)
            ),
        )
