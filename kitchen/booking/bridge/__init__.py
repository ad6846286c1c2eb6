"""When a batch fits: the planner is asked for a day with just this batch, one canner, and what is taken left out.

So every minute a member is shown, prep, kettle, filling, the canner's phases, unloading and cleaning, comes from the
planner that also plans harvest days, and the judge has looked at each answer. A day's last admission is whatever
still lets the whole chain end before closing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache

from kitchen.batches.bridge import food_choices
from kitchen.booking.bridge.asking import answer_to, question
from kitchen.booking.bridge.reading import OnADay, Wanted, free_spans, moment_of, open_spans, read_day
from kitchen.equipment.bridge import why_out_of_service
from kitchen.equipment.models import Canner as CannerRow
from kitchen.equipment.models import CannerTime
from kitchen.equipment.queries import canners_of
from kitchen.members.models import Kitchen, User
from kitchen.planning.bridge.answer import load_times
from kitchen.planning.published import LoadTime
from scheduler.canner import Canner
from scheduler.caution import CAUTION
from scheduler.interval import Span
from scheduler.plan import Load, Plan
from scheduler.problem import Day
from scheduler.process import printed_processes, process_named
from scheduler.wall_clock import WallClock

__all__ = ["CAUTION", "Wanted"]

DAYS_SHOWN = 7
"""How many days from the one that is asked for are looked at."""
TIMES_SHOWN = 8
# Times on one canner are spread over the stretch in which it is free, morning to evening, never closer than an hour.
_TIMES_IN_A_STRETCH = 6
_LEAST_STEP_MINUTES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadTold:
    """A load of an offer: its jars, jars of water that fill it up, its process and its phases by the clock.

    ``reading_psi`` is what this canner's dial must show, None where there is no dial.
    """

    jars: int
    water_jars: int
    process: str
    source: str
    reading_psi: float | None
    sterilise_jars: bool
    acid: tuple[str, ...]
    phases: tuple[tuple[str, datetime, datetime], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A time that fits the whole chain; ``planned`` are its loads as they are written once it is booked.

    ``arrives_at`` is what it was reckoned from, ``comes_at`` when the work begins. The canner is taken from
    ``starts_at``, the first jar filled, to ``ends_at``: unloaded, and cleaned after meat and fish.
    """

    canner: CannerRow
    arrives_at: datetime
    comes_at: datetime
    starts_at: datetime
    ends_at: datetime
    loads: tuple[LoadTold, ...]
    planned: tuple[LoadTime, ...]

    @property
    def key(self) -> str:
        """What a page sends back to choose this time."""
        moments = (self.arrives_at, self.starts_at, self.ends_at)
        return "|".join([str(self.canner.uuid), *(f"{moment:%Y%m%dT%H%M%z}" for moment in moments)])

    @property
    def process_starts_at(self) -> datetime:
        """When the last of its loads is processed, from pressure or boil on."""
        return max(start for load in self.loads for kind, start, _end in load.phases if kind == "process")

    @property
    def jars_words(self) -> str:
        """How many jars stand in each load: ``7 and 5``."""
        return " and ".join(str(load.jars) for load in self.loads)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hindrance:
    """Why nothing fits at a canner on a day, and what would help; ``canner`` is empty where it is the kitchen's."""

    canner: str
    reason: str
    remedy: str


@cache
def what_choices() -> tuple[tuple[str, str], ...]:
    """Every food and pack for which something is published, with its name, for a form."""
    names = dict(food_choices())
    pairs = sorted({(names[one.food_id], one.food_id, one.pack.value) for one in printed_processes()})
    return tuple((f"{food}:{pack}", f"{name}, {pack} pack") for name, food, pack in pairs)


def offers(
    kitchen: Kitchen, member: User, wanted: Wanted, first: date, now: datetime, *, most: int = TIMES_SHOWN
) -> list[Offer]:
    """The first times that fit, by when one would come and then by when the jars are out; at most so many.

    None begins before a hold of it would lapse: whoever looks at it in peace can still book it.
    """
    found: list[Offer] = []
    soonest = _soonest(kitchen, now)
    for day in (first + timedelta(days=number) for number in range(DAYS_SHOWN)):
        if day < now.astimezone(kitchen.zone).date():
            continue
        that_day = _on(kitchen, member, wanted, day, now, soonest)
        found += sorted(that_day, key=lambda one: (one.comes_at, one.ends_at))
        if len(found) >= most:
            break
    return found[:most]


def offers_on(kitchen: Kitchen, member: User, wanted: Wanted, day: date, now: datetime) -> list[Offer]:
    """The times of one day that fit, the first to come first."""
    found = _on(kitchen, member, wanted, day, now, now)
    return sorted(found, key=lambda one: (one.comes_at, one.ends_at))


def fits_on(kitchen: Kitchen, member: User, wanted: Wanted, day: date, now: datetime) -> bool:
    """True when some time of the day fits."""
    return next(_on(kitchen, member, wanted, day, now, _soonest(kitchen, now)), None) is not None


def offer_at(
    kitchen: Kitchen,
    member: User,
    wanted: Wanted,
    canner: CannerRow,
    arrives_at: datetime,
    now: datetime,
    *,
    without: Iterable[CannerTime] = (),
) -> Offer | None:
    """What the planner says now of a canner and an arrival, as if the time ``without`` were not taken."""
    day = arrives_at.astimezone(kitchen.zone).date()
    on = read_day(kitchen, member, wanted, day, now, {time.pk for time in without})
    for opening in open_spans(on, now):
        if opening.start <= on.clock.minute_of(arrives_at) < opening.end:
            for row, vessel in on.canners:
                if row.pk == canner.pk:
                    return _first_fit(on, row, vessel, opening, arrives_at)
    return None


def why_not_on(kitchen: Kitchen, member: User, wanted: Wanted, day: date, now: datetime) -> list[Hindrance]:
    """Why no time of a day fits, canner by canner; ``not_offered`` names those out of service."""
    on = read_day(kitchen, member, wanted, day, now, set())
    openings = open_spans(on, _soonest(kitchen, now))
    if not openings:
        closed = "The kitchen is closed then, or open for a harvest day only."
        return [Hindrance(canner="", reason=closed, remedy="Choose another day.")]
    return [_hindrance(on, row, vessel, openings) for row, vessel in on.canners]


def _hindrance(on: OnADay, row: CannerRow, vessel: Canner, openings: Iterable[Span]) -> Hindrance:
    """What the planner says about the longest stretch in which the canner is free."""
    free = [(span, opening) for opening in openings for span in free_spans(on, row, opening)]
    if not free:
        return Hindrance(canner=row.name, reason="It is taken all day.", remedy="")
    span, opening = max(free, key=lambda pair: pair[0].minutes)
    answer = answer_to(question(on, vessel, opening, span, span.start))
    if answer.plan is not None:
        return Hindrance(canner=row.name, reason="A time fits.", remedy="")
    return Hindrance(canner=row.name, reason=answer.reason, remedy=answer.remedy)


def not_offered(kitchen: Kitchen, on: date) -> list[str]:
    """The canners that are out of service on a day, each with the reason (rule S8)."""
    return [why for canner in canners_of(kitchen) if (why := why_out_of_service(canner, on))]


def _soonest(kitchen: Kitchen, now: datetime) -> datetime:
    return now + timedelta(minutes=kitchen.hold_minutes)


def _on(
    kitchen: Kitchen, member: User, wanted: Wanted, day: date, now: datetime, soonest: datetime
) -> Iterator[Offer]:
    """What fits as things are ``now``, from ``soonest`` on."""
    on = read_day(kitchen, member, wanted, day, now, set())
    for opening in open_spans(on, soonest):
        for row, vessel in on.canners:
            for free in free_spans(on, row, opening):
                yield from _times(on, row, vessel, opening, free)


def _times(on: OnADay, row: CannerRow, vessel: Canner, opening: Span, free: Span) -> Iterator[Offer]:
    """An arrival as early as may be, and more over the stretch, up to the last from which all still fits."""
    step = max(_LEAST_STEP_MINUTES, -(-(free.end - free.start) // _TIMES_IN_A_STRETCH))
    arrival = opening.start
    while (offer := _fitting(on, row, vessel, opening, free, arrival)) is not None:
        yield offer
        arrival = on.clock.minute_of(offer.comes_at) + step


def _first_fit(
    on: OnADay, row: CannerRow, vessel: Canner, opening: Span, arrives_at: datetime
) -> Offer | None:
    arrival = on.clock.minute_of(arrives_at)
    found = (_fitting(on, row, vessel, opening, span, arrival) for span in free_spans(on, row, opening))
    return next((offer for offer in found if offer is not None), None)


def _fitting(
    on: OnADay, row: CannerRow, vessel: Canner, opening: Span, free: Span, arrival: int
) -> Offer | None:
    if arrival >= opening.end:
        return None
    asked = question(on, vessel, opening, free, arrival)
    plan = answer_to(asked).plan
    return None if plan is None else _offer(on, row, asked, plan, arrival)


def _offer(on: OnADay, row: CannerRow, asked: Day, plan: Plan, arrival: int) -> Offer:
    pieces = [load.span for load in plan.loads] + [task.span for task in plan.tasks]
    fills = [task.start for task in plan.tasks if task.kind.value == "fill"]
    return Offer(
        canner=row,
        arrives_at=moment_of(on.clock, arrival),
        comes_at=moment_of(on.clock, min(piece.start for piece in pieces)),
        starts_at=moment_of(on.clock, min([*fills, *(load.span.start for load in plan.loads)])),
        ends_at=moment_of(on.clock, max(piece.end for piece in pieces)),
        loads=tuple(_told(load, on.clock) for load in sorted(plan.loads, key=lambda load: load.span)),
        planned=load_times(asked, plan),
    )


def _told(load: Load, clock: WallClock) -> LoadTold:
    portion = load.portions[0]
    process = process_named(portion.process_key)
    return LoadTold(
        jars=portion.jars,
        water_jars=load.water_jars,
        process=process.words,
        source=process.source,
        reading_psi=load.target_reading_psi,
        sterilise_jars=portion.sterilise_jars,
        acid=portion.acid,
        phases=tuple(
            (phase.kind.value.replace("_", "-"), moment_of(clock, phase.start), moment_of(clock, phase.end))
            for phase in load.phases
        ),
    )
