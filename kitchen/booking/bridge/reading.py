"""A day of the kitchen as rows, read once: hours, canners, people, cooling tables and what is taken."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from kitchen.batches.models import Batch as BatchRow
from kitchen.booking.queries import harvest_spans, opening_of
from kitchen.equipment.bridge import as_burner, as_canner, as_kettle, why_out_of_service
from kitchen.equipment.models import Canner as CannerRow
from kitchen.equipment.queries import burners_of, canners_at_hand, kettles_of, taken_between
from kitchen.learning.bridge import Figures, figures_for
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import membership_of, trained_on
from kitchen.planning.bridge.rows import batch_of, minute_after, policy_of, span_of, tables_of
from kitchen.planning.queries import jars_standing_after
from scheduler.canner import Burner, Canner
from scheduler.interval import Span, merge, subtract
from scheduler.pace import Pace
from scheduler.problem import Batch, CoolingTable, Kettle, Person, Policy, StationKind
from scheduler.wall_clock import WallClock, wall_clock

_NOT_AT_CANNERS = frozenset(StationKind) - {StationKind.CANNER}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is to be canned, and how many people come, the member counted."""

    food_id: str
    pack: str
    jar: str
    jars: int
    people: int = 1


@dataclass(frozen=True, slots=True)
class OnADay:
    """What is read once for a day of the kitchen."""

    kitchen: Kitchen
    date: date
    clock: WallClock
    batch: Batch
    burners: tuple[Burner, ...]
    kettles: tuple[Kettle, ...]
    tables: tuple[CoolingTable, ...]
    policy: Policy
    people: tuple[Person, ...]
    canners: tuple[tuple[CannerRow, Canner], ...]
    taken: tuple[tuple[int, Span], ...]


def read_day(
    kitchen: Kitchen, member: User, wanted: Wanted, day: date, now: datetime, without: set[int]
) -> OnADay:
    """Everything that a day's answers need, but for the canner times ``without``."""
    clock = wall_clock(day, kitchen.time_zone)
    learned = figures_for(kitchen, day)
    return OnADay(
        kitchen=kitchen,
        date=day,
        clock=clock,
        batch=_batch(kitchen, member, wanted, clock, learned),
        burners=tuple(as_burner(burner) for burner in burners_of(kitchen)),
        kettles=tuple(as_kettle(kettle) for kettle in kettles_of(kitchen)),
        tables=tables_of(kitchen, clock, jars_standing_after(kitchen.pk, clock.origin), clock.origin),
        policy=policy_of(kitchen, clock, learned),
        people=_people(kitchen, member, wanted.people, day),
        canners=tuple(
            (row, replace(as_canner(row, on=day, service=()), pace=learned.canners.get(row.pk, Pace())))
            for row in canners_at_hand(kitchen)
            if not why_out_of_service(row, day)
        ),
        taken=_taken(kitchen, clock, now, without),
    )


def _batch(kitchen: Kitchen, member: User, wanted: Wanted, clock: WallClock, learned: Figures) -> Batch:
    row = BatchRow(
        pk=0,
        kitchen=kitchen,
        member=member,
        food_id=wanted.food_id,
        pack=wanted.pack,
        jar=wanted.jar,
        amount=Decimal(wanted.jars),
        jars=wanted.jars,
        arrives_at=clock.origin,
        picks_up_at=clock.origin + timedelta(days=1),
    )
    return replace(batch_of(row, clock, learned), member="member")


def _people(kitchen: Kitchen, member: User, count: int, day: date) -> tuple[Person, ...]:
    """The member and whoever comes along; beside a member without training stands a trained person, who only watches
    (rule S9).
    """
    membership = membership_of(member, kitchen)
    under_16 = membership is None or membership.under_16
    trained = member.pk in trained_on(kitchen, day)
    here = Person(id="member", name="member", hours=(), trained=trained, under_16=under_16)
    people = [here, *(Person(id=f"guest-{one}", name="guest", hours=()) for one in range(1, count))]
    if not here.may_watch:
        people.append(
            Person(id="watcher", name="trained person", hours=(), trained=True, cannot=_NOT_AT_CANNERS)
        )
    return tuple(people)


def open_spans(on: OnADay, now: datetime) -> tuple[Span, ...]:
    """When the kitchen is open that day and no harvest day is held, from now on."""
    spans = [span_of(on.clock, starts_at, ends_at) for starts_at, ends_at in opening_of(on.kitchen, on.date)]
    held = [span_of(on.clock, *span) for span in harvest_spans(on.kitchen, on.date)]
    held.append(Span(min(0, minute_after(on.clock, now)) - 1, minute_after(on.clock, now)))
    return subtract(merge(spans), held)


def free_spans(on: OnADay, row: CannerRow, opening: Span) -> tuple[Span, ...]:
    """The stretches in which neither the canner nor its burner is taken."""
    return subtract((opening,), [span for burner_id, span in on.taken if burner_id == row.burner_id])


def _taken(
    kitchen: Kitchen, clock: WallClock, now: datetime, without: set[int]
) -> tuple[tuple[int, Span], ...]:
    """What is taken that day, by burner: canners on one burner never run at once."""
    times = taken_between(kitchen, clock.origin, clock.origin + timedelta(days=2), now)
    return tuple(
        (one.canner.burner_id, span_of(clock, one.starts_at, one.ends_at))
        for one in times
        if one.pk not in without
    )


def moment_of(clock: WallClock, minute: int) -> datetime:
    """A minute of the day as a moment."""
    return clock.origin + timedelta(minutes=minute)
