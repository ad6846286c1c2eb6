"""Harvest days that are over: batches, loads as they ran, their records line by line, jars on the shelf, notices."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import count

from kitchen.audit.models import AuditEvent
from kitchen.batches.models import Batch, BatchState
from kitchen.bench.bridge import Canned, what_is_canned
from kitchen.bench.sites import CANNERS, Site, write
from kitchen.equipment.models import CannerTime, Purpose
from kitchen.floor.models import EventKind, RunEvent
from kitchen.labels.models import MoveKind, ShelfMove
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.members.models import User
from kitchen.planning.models import (
    DayState,
    HarvestDay,
    Load,
    LoadPhase,
    LoadPortion,
    LoadState,
    lot_code,
)
from kitchen.records.models import RecordSignature, SignatureKind
from kitchen.reminders.models import Kind, Notice, Reminder, State
from kitchen.rota.models import Attendance, Shift
from kitchen.rota.models import Station as RotaStation
from kitchen.seals.models import OfferState, ReprocessOffer, SealCheck

LOADS_OF_A_CANNER = 6
MOST_A_DAY = CANNERS * LOADS_OF_A_CANNER
_FIRST_LOAD = time(7)
_LOAD_TAKES = timedelta(minutes=140)
_JARS = 7
_SATURDAY = 5
_WEEKS_OF_A_SEASON = 13

# Minutes after loading begins of a load of 25 minutes; a longer process moves what comes after it.
_TAPS = (
    (EventKind.LOADED, 5),
    (EventKind.STEADY_STEAM, 15),
    (EventKind.WEIGHT_ON, 25),
    (EventKind.AT_PRESSURE, 30),
    (EventKind.HEAT_OFF, 55),
    (EventKind.ZERO_PRESSURE, 95),
    (EventKind.LID_OFF, 105),
    (EventKind.JARS_OUT, 110),
)
_PHASES = ("loading", "heat_up", "vent", "pressure_up", "process", "cool_down", "rest", "unloading")
_TIMED = ((TimedKind.HEAT_UP, 10), (TimedKind.PRESSURE_UP, 5), (TimedKind.COOL_DOWN, 40))


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """How much one kitchen gets: so many batches, each with a load of its own and so many lines in its record.

    ``on_shelf`` of a hundred lots still stand on the shelf; of a hundred batches ``of_one`` are one member's.
    """

    batches: int
    lines_of_a_load: int
    batches_of_a_day: int = 40
    on_shelf: int = 10
    of_one: int = 10


def _is_reviewed(place: int) -> bool:
    """Nine of ten are."""
    return place % 10 > 0


def past_days(before: date, many: int) -> list[date]:
    """So many Saturdays of seasons from July to September, the newest first."""
    found: list[date] = []
    for year in count(before.year, -1):
        first = date(year, 7, 1)
        first += timedelta(days=(_SATURDAY - first.weekday()) % 7)
        season = [first + timedelta(weeks=week) for week in range(_WEEKS_OF_A_SEASON)]
        found += [day for day in reversed(season) if day < before]
        if len(found) >= many:
            return found[:many]
    raise AssertionError("seasons never end")


def fill_seasons(site: Site, amounts: Amounts, today: date) -> None:
    """The kitchen's days until today, the newest first, until it has had as many batches as it gets."""
    a_day = min(amounts.batches_of_a_day, MOST_A_DAY)
    numbers = list(range(amounts.batches))
    chunks = [numbers[first : first + a_day] for first in range(0, len(numbers), a_day)]
    for ago, (day, chunk) in enumerate(zip(past_days(today, len(chunks)), chunks, strict=True)):
        _Day(site, amounts, day, chunk, is_newest=ago == 0).fill()


class _Day:
    """One day that is over. On the newest the jars are out but not counted or reviewed yet."""

    def __init__(
        self, site: Site, amounts: Amounts, on: date, numbers: Sequence[int], *, is_newest: bool
    ) -> None:
        self.site, self.amounts, self.on, self.numbers, self.is_newest = site, amounts, on, numbers, is_newest
        self.canned = what_is_canned(site.kitchen.altitude_ft)
        self.opens = site.at(on, _FIRST_LOAD)

    def fill(self) -> None:
        kitchen = self.site.kitchen
        self.day = HarvestDay.objects.create(
            kitchen=kitchen,
            date=self.on,
            opens_at=self.opens,
            closes_at=self.opens + timedelta(hours=14),
            state=DayState.PUBLISHED if self.is_newest else DayState.CLOSED,
            version=1,
        )
        batches = write(self._batch(number) for number in self.numbers)
        times = write(self._time(place) for place in range(len(batches)))
        self.loads = write(map(self._load, range(len(batches)), times))
        self.portions = write(
            LoadPortion(
                load=load,
                batch=batch,
                jars=_JARS,
                process_key=self._what(place).process_key,
                headspace_in=self._what(place).headspace_in,
            )
            for place, (load, batch) in enumerate(zip(self.loads, batches, strict=True))
        )
        write(
            phase
            for place, load in enumerate(self.loads)
            for phase in self._phases(load, self._starts(place))
        )
        self._record()
        self._people()
        self._after()
        write(
            AuditEvent(
                actor=batch.member,
                kitchen=kitchen,
                action="declare_batch",
                object_type="Batch",
                object_id=str(batch.pk),
                after={"food": batch.food_id, "jars": batch.jars},
                at=self.opens - timedelta(days=2),
            )
            for batch in batches
        )

    def _what(self, place: int) -> Canned:
        return self.canned[self.numbers[place] % len(self.canned)]

    def _member(self, number: int) -> User:
        members = self.site.members
        is_first = number * self.amounts.of_one % 100 < self.amounts.of_one
        return members[0] if is_first else members[number % len(members)]

    def _starts(self, place: int) -> datetime:
        return self.opens + _LOAD_TAKES * (place // CANNERS)

    def _batch(self, number: int) -> Batch:
        what = self.canned[number % len(self.canned)]
        return Batch(
            kitchen=self.site.kitchen,
            member=self._member(number),
            harvest_day=self.day,
            food_id=what.food_id,
            food_name=what.food_name,
            pack=what.pack,
            jar=what.jar,
            amount=_JARS,
            unit="jars",
            jars_low=_JARS,
            jars_high=_JARS,
            jars=_JARS,
            arrives_at=self.day.opens_at,
            picks_up_at=self.day.closes_at,
            state=BatchState.PLANNED,
        )

    def _time(self, place: int) -> CannerTime:
        starts = self._starts(place)
        return CannerTime(
            kitchen=self.site.kitchen,
            canner=self.site.canners[place % CANNERS],
            starts_at=starts,
            ends_at=starts + _LOAD_TAKES,
            purpose=Purpose.LOAD,
        )

    def _load(self, place: int, taken: CannerTime) -> Load:
        what, starts = self._what(place), self._starts(place)
        number = place // CANNERS + 1
        has_deviation = self.numbers[place] % 50 == 7
        return Load(
            harvest_day=self.day,
            canner=taken.canner,
            canner_time=taken,
            number=number,
            lot_code=lot_code(day=self.day, canner=taken.canner, number=number, foods=[what.food_id]),
            method="pressure_weighted",
            pressure_psi=what.pressure_psi,
            target_reading_psi=what.pressure_psi,
            process_minutes=what.minutes,
            cooling_table=self.site.tables[place % len(self.site.tables)],
            stand_area_sq_in=110,
            stands_until=starts + _LOAD_TAKES + timedelta(hours=24),
            state=LoadState.OUT if self.is_newest else LoadState.CLOSED,
            process_ended_at=starts + timedelta(minutes=55),
            jars_out_at=starts + timedelta(minutes=110),
            closed_at=None if self.is_newest else starts + timedelta(days=1),
            deviation="Vented 8 of 10 minutes (rule S4)." if has_deviation else "",
            on_hold=has_deviation,
            used_up=not self.is_newest and self._is_gone(place),
            reviewed=not self.is_newest and _is_reviewed(place),
        )

    def _phases(self, load: Load, began: datetime) -> Iterator[LoadPhase]:
        since = began
        for kind, (_, minutes) in zip(_PHASES, _TAPS, strict=True):
            ends = began + timedelta(minutes=minutes)
            yield LoadPhase(load=load, kind=kind, starts_at=since, ends_at=ends)
            since = ends

    def _record(self) -> None:
        """The taps, as many as there shall be; further lines correct earlier ones."""
        plain = min(self.amounts.lines_of_a_load, len(_TAPS))
        lines = write(
            RunEvent(
                load=load,
                kind=kind,
                at=self._starts(place) + timedelta(minutes=minutes),
                recorded_at=self._starts(place) + timedelta(minutes=minutes),
                recorded_by=self.site.operators[place % len(self.site.operators)],
            )
            for place, load in enumerate(self.loads)
            for kind, minutes in _TAPS[-plain:]
        )
        of_load = [lines[first : first + plain] for first in range(0, len(lines), plain)]
        for further in range(self.amounts.lines_of_a_load - plain):
            corrections = write(
                RunEvent(
                    load=wrong[further].load,
                    kind=wrong[further].kind,
                    at=wrong[further].at,
                    recorded_at=wrong[further].recorded_at + timedelta(hours=2),
                    recorded_by=wrong[further].recorded_by,
                    corrects=wrong[further],
                    note="Read off the wall clock",
                )
                for wrong in of_load
            )
            of_load = [[*known, new] for known, new in zip(of_load, corrections, strict=True)]
        if not self.is_newest:
            write(self._signatures([known[-1] for known in of_load]))

    def _signatures(self, newest: Sequence[RunEvent]) -> Iterator[RecordSignature]:
        """Signed by the operator; most are reviewed too."""
        for number, line in enumerate(newest):
            signed = line.recorded_at + timedelta(hours=5)
            said = [(SignatureKind.SIGNED, line.recorded_by)]
            if _is_reviewed(number):
                said.append((SignatureKind.REVIEWED, self.site.leads[0]))
            for kind, by in said:
                yield RecordSignature(
                    load=line.load,
                    kind=kind,
                    by=by,
                    at=signed,
                    digest=f"{line.pk:064x}",
                    last_line=line,
                    deviation=line.load.deviation,
                )

    def _people(self) -> None:
        people = self.site.people
        write(
            Attendance(
                harvest_day=self.day, user=user, starts_at=self.day.opens_at, ends_at=self.day.closes_at
            )
            for user in people
        )
        write(
            Shift(
                harvest_day=self.day,
                user=people[(place * 2 + seat) % len(people)],
                station=station,
                load=load,
                starts_at=self._starts(place),
                ends_at=self._starts(place) + timedelta(minutes=90),
            )
            for place, load in enumerate(self.loads)
            for seat, station in enumerate((RotaStation.CANNER, RotaStation.PREP))
        )

    def _after(self) -> None:
        """What came of the jars: reminders, counts, what left the shelf, and measured times."""
        reminders = write(
            one for place, portion in enumerate(self.portions) for one in self._reminders(place, portion)
        )
        write(
            Notice(
                reminder=one,
                recipient=one.recipient,
                created_at=one.due_at,
                seen_at=None if self.is_newest else one.due_at + timedelta(hours=3),
            )
            for one in reminders
        )
        if not self.is_newest:
            self._counted()
        write(
            MeasuredTime(
                kitchen=self.site.kitchen,
                kind=kind,
                canner=load.canner,
                load=load,
                jars=_JARS,
                on=self.on,
                usual_minutes=usual,
                recorded_minutes=usual * (0.9 + place % 5 / 20),
                recorded_by=self.site.operators[0],
            )
            for place, load in enumerate(self.loads)
            for kind, usual in _TIMED
        )

    def _counted(self) -> None:
        """Counts of seals, offers for what did not seal, and what was taken home."""
        write(self._count(place, portion) for place, portion in enumerate(self.portions))
        write(
            ReprocessOffer(
                portion=portion,
                jars=1,
                deadline=self._starts(place) + timedelta(minutes=55, hours=24),
                state=OfferState.EXPIRED,
                offered_at=self._starts(place) + timedelta(hours=14),
                decided_at=self._starts(place) + timedelta(hours=26),
            )
            for place, portion in enumerate(self.portions)
            if self._unsealed(place)
        )
        write(
            ShelfMove(
                portion=portion,
                kind=MoveKind.TAKEN_HOME,
                jars=_JARS - self._unsealed(place),
                at=self.day.closes_at + timedelta(days=1),
                recorded_by=portion.batch.member,
            )
            for place, portion in enumerate(self.portions)
            if self._is_gone(place)
        )

    def _is_gone(self, place: int) -> bool:
        return self.numbers[place] % 100 >= self.amounts.on_shelf

    def _unsealed(self, place: int) -> int:
        return int(self.numbers[place] % 20 == 3)

    def _count(self, place: int, portion: LoadPortion) -> SealCheck:
        unsealed = self._unsealed(place)
        return SealCheck(
            portion=portion,
            sealed=_JARS - unsealed,
            unsealed=unsealed,
            broken=0,
            checked_by=portion.batch.member,
            checked_at=self._starts(place) + timedelta(hours=16),
        )

    def _reminders(self, place: int, portion: LoadPortion) -> Iterator[Reminder]:
        out = self._starts(place) + timedelta(minutes=110)
        for kind, hours in ((Kind.FIRST_CALL, 12), (Kind.SEAL_CHECK, 24)):
            due = out + timedelta(hours=hours)
            yield Reminder(
                kitchen=self.site.kitchen,
                portion=portion,
                recipient=portion.batch.member,
                kind=kind,
                jars_out_at=out,
                reprocess_by=out + timedelta(hours=23),
                due_at=due,
                next_attempt_at=due,
                state=State.DONE,
                done_at=due,
                attempts=1,
            )
