"""The question: a kitchen's day, who brings what, and what there is to can it with.

All times are whole minutes of elapsed time since ``Day.origin``; the day file and the database convert
wall-clock times once, at the edge, so a change of summer time inside the day moves nothing.
"""

from __future__ import annotations

import datetime
import itertools
from dataclasses import dataclass, field
from enum import StrEnum
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduler.canner import LEAST_COOL_DOWN_MINUTES, Burner, Canner
from scheduler.errors import BadDay
from scheduler.floor import Floor
from scheduler.interval import Span, covered
from scheduler.jars import JarSize, Pack
from scheduler.pace import check_pace

# Rules S11 and S12: jars stand 12 to 24 hours before the seal test. USDA AIB 539, Cooling Jars and Testing
# Jar Seals.
LEAST_STAND_MINUTES = 12 * 60
MOST_STAND_MINUTES = 24 * 60
# Rule S11: reprocess within 24 hours of the first process. USDA AIB 539, Reprocessing Unsealed Jars.
REPROCESS_WITHIN_MINUTES = 24 * 60
# The size of a batch that a form or a file may ask for; a typing guard, not a figure of the trade.
MOST_JARS_IN_BATCH = 2000
_DAY_MINUTES = 24 * 60


class StationKind(StrEnum):
    """Where hands are needed."""

    PREP = "prep"
    KETTLE = "kettle"
    FILL = "fill"
    CANNER = "canner"
    COOLING = "cooling"


_FURTHEST_AHEAD = datetime.timedelta(hours=14)
"""No clock on earth is further ahead of UTC."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """So many hands at a station during a span."""

    span: Span
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A working place and its hands over the day. Spans must not overlap."""

    kind: StationKind
    hands: tuple[Hands, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kettle:
    """A pot for hot pack food. ``volume_qt`` is what it may hold while cooking."""

    id: str
    name: str
    volume_qt: float
    burner_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TableUse:
    """Space already taken on a cooling table, for instance by yesterday's jars."""

    span: Span
    area_sq_in: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingTable:
    """Where jars stand after unloading (rule S12)."""

    id: str
    name: str
    area_sq_in: float
    taken: tuple[TableUse, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Someone who helps. ``trained`` means trained to run a canner on this day (rule S9).

    ``learning`` means learning to: beside a trained person at a canner, never instead of one. ``cannot`` are the
    stations where this person does not work, ``likes`` those preferred to others; with none named all are alike.
    ``most_minutes`` limits the work of one day. Whoever ``comes_with`` another comes and goes with that person.
    ``carried_minutes`` is what the person did more than others on days before; it counts when work is shared out.
    """

    id: str
    name: str
    hours: tuple[Span, ...]
    trained: bool = False
    under_16: bool = False
    learning: bool = False
    cannot: frozenset[StationKind] = frozenset()
    likes: frozenset[StationKind] = frozenset()
    most_minutes: int | None = None
    comes_with: str | None = None
    carried_minutes: int = 0

    def __post_init__(self) -> None:
        if self.most_minutes is not None and not 1 <= self.most_minutes <= _DAY_MINUTES:
            raise BadDay(
                f"{self.name} would work at most {self.most_minutes} minutes.",
                remedy=f"Give from 1 to {_DAY_MINUTES} minutes, or leave it open.",
            )
        if self.carried_minutes < 0:
            raise BadDay(
                f"{self.name} has {self.carried_minutes} minutes to carry.",
                remedy="Count from 0: what is carried is what was done more than others.",
            )
        if self.comes_with == self.id:
            raise BadDay(f"{self.name} would come with nobody else.", remedy="Name another person.")

    @property
    def may_watch(self) -> bool:
        """True when this person may watch a canner: trained, of age and not unable to (rule S9)."""
        return self.trained and not self.under_16 and StationKind.CANNER not in self.cannot


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One member's lot of one food, one pack, one jar size.

    ``jars`` is the number planned: the upper end of the yield. ``arrival`` is its release, ``pickup`` its due
    time. Prep is counted in person-minutes a jar; ``kettle_minutes`` is the cooking before a hot pack fill, 0
    for raw pack.
    """

    id: str
    member: str
    food_id: str
    pack: Pack
    jar: JarSize
    jars: int
    arrival: int
    pickup: int
    prep_person_minutes_per_jar: float
    kettle_minutes: int
    meat_or_fish: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.jars <= MOST_JARS_IN_BATCH:
            raise BadDay(
                f"Batch {self.id} asks for {self.jars} jars.",
                remedy=f"Give a number from 1 to {MOST_JARS_IN_BATCH}, or bring the food as several batches.",
            )
        if self.pickup <= self.arrival:
            raise BadDay(
                f"Batch {self.id} would be picked up before it arrives.",
                remedy="Set the pick-up after the arrival.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """What a kitchen may decide for itself, with the safe default. None of it lowers a published figure.

    ``fill_pace`` is what its records taught: filling as a multiple of the usual time. Nobody works longer than
    ``break_every_minutes`` without ``break_minutes`` of rest, nor than ``meal_after_minutes`` without
    ``meal_minutes``; the first and the last work of a day lie within ``longest_shift_minutes``, and between two days
    there are ``rest_minutes``. From one station to another takes ``walking_minutes``.
    """

    canners_per_person: int = 2
    fill_wait_limit_minutes: int = 20
    cool_down_minutes: int = 40
    share_under_longest: bool = False
    cleaning_minutes: int = 15
    cooling_stand_minutes: int = MOST_STAND_MINUTES
    meat_cut_off: int | None = None
    loading_minutes: int = 5
    unloading_minutes: int = 5
    prep_hands: int = 2
    fill_hands: int = 2
    fill_pace: float = 1.0
    break_minutes: int = 15
    break_every_minutes: int = 180
    meal_minutes: int = 30
    meal_after_minutes: int = 300
    longest_shift_minutes: int = 12 * 60
    rest_minutes: int = 10 * 60
    walking_minutes: int = 0
    confirmed_processes: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        check_pace(self.fill_pace, "The policy fill_pace")
        limits = (
            ("canners_per_person", self.canners_per_person, 1, 6),
            ("fill_wait_limit_minutes", self.fill_wait_limit_minutes, 1, 60),
            ("cool_down_minutes", self.cool_down_minutes, LEAST_COOL_DOWN_MINUTES, 240),
            ("cleaning_minutes", self.cleaning_minutes, 1, 240),
            ("cooling_stand_minutes", self.cooling_stand_minutes, LEAST_STAND_MINUTES, MOST_STAND_MINUTES),
            ("loading_minutes", self.loading_minutes, 1, 60),
            ("unloading_minutes", self.unloading_minutes, 1, 60),
            ("prep_hands", self.prep_hands, 1, 12),
            ("fill_hands", self.fill_hands, 1, 6),
            ("break_minutes", self.break_minutes, 5, 60),
            ("break_every_minutes", self.break_every_minutes, 60, 360),
            ("meal_minutes", self.meal_minutes, 10, 120),
            ("meal_after_minutes", self.meal_after_minutes, 120, 480),
            ("longest_shift_minutes", self.longest_shift_minutes, 120, 16 * 60),
            ("rest_minutes", self.rest_minutes, 8 * 60, 24 * 60),
            ("walking_minutes", self.walking_minutes, 0, 15),
        )
        for name, value, least, most in limits:
            if not least <= value <= most:
                raise BadDay(
                    f"The policy {name} is {value}.",
                    remedy=f"Set it between {least} and {most}; see rule S5, S10 or S12, or the rota's rules.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Everything the planner is told. Refused when it contradicts itself.

    ``floor`` is the state of a day under way; None before anything has begun.
    """

    kitchen: str
    altitude_ft: float
    time_zone: str
    date: datetime.date
    origin: datetime.datetime
    opening: tuple[Span, ...]
    canners: tuple[Canner, ...]
    burners: tuple[Burner, ...]
    batches: tuple[Batch, ...]
    kettles: tuple[Kettle, ...] = ()
    stations: tuple[Station, ...] = ()
    people: tuple[Person, ...] = ()
    tables: tuple[CoolingTable, ...] = ()
    policy: Policy = field(default_factory=Policy)
    floor: Floor | None = None

    def __post_init__(self) -> None:
        if self.origin.tzinfo is None or self.origin.utcoffset() is None:
            raise BadDay(
                "The day's origin has no time zone.", remedy="Give it as an aware time, for instance in UTC."
            )
        if not self.opening:
            raise BadDay("The kitchen is never open on this day.", remedy="Give opening hours.")
        for kind, ids in (
            ("canner", [canner.id for canner in self.canners]),
            ("burner", [burner.id for burner in self.burners]),
            ("kettle", [kettle.id for kettle in self.kettles]),
            ("table", [table.id for table in self.tables]),
            ("person", [person.id for person in self.people]),
            ("batch", [batch.id for batch in self.batches]),
            ("station", [station.kind.value for station in self.stations]),
        ):
            _refuse_twice(kind, ids)
        self._check_burners()
        self._check_stations()
        self._check_company()
        self._check_floor()

    def _check_burners(self) -> None:
        known = {burner.id for burner in self.burners}
        needed = [(canner.name, canner.burner_id) for canner in self.canners]
        needed += [(kettle.name, kettle.burner_id) for kettle in self.kettles if kettle.burner_id]
        for name, burner_id in needed:
            if burner_id not in known:
                raise BadDay(
                    f"{name} stands on burner {burner_id!r}, which is not among the burners.",
                    remedy=f"Name one of: {', '.join(sorted(known)) or 'none is listed'}.",
                )

    def _check_stations(self) -> None:
        for station in self.stations:
            spans = sorted(entry.span for entry in station.hands)
            if any(before.meets(after) for before, after in itertools.pairwise(spans)):
                raise BadDay(
                    f"The hours of station {station.kind} overlap.",
                    remedy="Give each span of hands once, without overlap.",
                )

    def _check_company(self) -> None:
        known = {person.id for person in self.people}
        for person in self.people:
            if person.comes_with is not None and person.comes_with not in known:
                raise BadDay(
                    f"{person.name} comes with {person.comes_with!r}, who is not among the people.",
                    remedy="Name a person of this day, or nobody.",
                )

    def _check_floor(self) -> None:
        if self.floor is None:
            return
        held = list(self.floor.held(self.policy.fill_wait_limit_minutes))
        for batch in self.batches:
            used = self.floor.in_canners(batch.id)
            used += sum(jars.jars for _, jars in held if jars.batch_id == batch.id)
            if used > batch.jars:
                raise BadDay(
                    f"Batch {batch.id} is said to have {batch.jars} jars; {used} are in canners or on hold already.",
                    remedy="Correct the number of its jars.",
                )

    def is_open(self, span: Span) -> bool:
        """True when the kitchen is open during the whole span."""
        return covered(span, self.opening)

    @property
    def horizon(self) -> int:
        """The minute the kitchen closes for the last time."""
        return max(span.end for span in self.opening)

    @property
    def last_date(self) -> datetime.date:
        """The date on which the kitchen closes for the last time; a check must hold so long (rule S8).

        In a time zone that nobody knows it is the latest date that it could be anywhere.
        """
        closing = self.origin + datetime.timedelta(minutes=self.horizon - 1)
        try:
            return closing.astimezone(ZoneInfo(self.time_zone)).date()
        except (
            ZoneInfoNotFoundError,
            ValueError,
            OSError,
        ):  # What ZoneInfo raises for words that name no zone.
            return (closing + _FURTHEST_AHEAD).date()


def _refuse_twice(kind: str, ids: list[str]) -> None:
    seen: set[str] = set()
    for one in ids:
        if one in seen:
            raise BadDay(f"There are two of {kind} {one!r}.", remedy=f"Give every {kind} an id of its own.")
        seen.add(one)
