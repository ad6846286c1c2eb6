"""The rows of a harvest day as the planner's question.

Rows are read in the order of their keys, so that the same rows always make the same question; times become whole
minutes since local midnight here, once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta

from django.db.models import prefetch_related_objects

from kitchen.batches.bridge import holds_meat_or_fish, usual_figures
from kitchen.batches.models import Batch as BatchRow
from kitchen.batches.queries import batches_of_day, slot_stands_after
from kitchen.equipment.bridge import as_burner, as_canner, as_kettle, as_table
from kitchen.equipment.models import Canner as CannerRow
from kitchen.equipment.models import CannerTime
from kitchen.equipment.queries import burners_of, canners_of, cooling_tables_of, kettles_of
from kitchen.helping.queries import Said, said_in
from kitchen.learning.bridge import Figures, figures_for, paced_minutes, unloading_minutes
from kitchen.members.models import Kitchen, Membership
from kitchen.members.queries import confirmed_process_keys, trained_on
from kitchen.planning.models import DayKind, HarvestDay, Load
from kitchen.planning.queries import (
    carried_minutes,
    other_canner_times,
    standing_jars,
)
from scheduler.canner import Canner
from scheduler.interval import Span, merge, subtract
from scheduler.jars import JarSize, Pack
from scheduler.pace import Pace
from scheduler.problem import Batch, CoolingTable, Day, Person, Policy, StationKind, TableUse
from scheduler.wall_clock import WallClock, wall_clock


def asked(row: HarvestDay) -> Day:
    """The question that a harvest day's rows make. ``SchedulerError`` when they contradict each other."""
    kitchen = row.kitchen
    clock = wall_clock(row.date, kitchen.time_zone)
    opening = span_of(clock, row.opens_at, row.closes_at)
    learned = figures_for(kitchen, row.date)
    return Day(
        kitchen=kitchen.name,
        altitude_ft=float(kitchen.altitude_ft),
        time_zone=kitchen.time_zone,
        date=row.date,
        origin=clock.origin,
        opening=(opening,),
        canners=_canners(row, clock, opening, learned),
        burners=tuple(as_burner(burner) for burner in burners_of(kitchen)),
        kettles=tuple(as_kettle(kettle) for kettle in kettles_of(kitchen)),
        tables=tables_of(row.kitchen, clock, standing_jars(row), row.opens_at),
        people=_people(row, clock, carried_minutes(row)),
        policy=policy_of(kitchen, clock, learned),
        batches=tuple(batch_of(batch, clock, learned) for batch in batches_of_day(row.pk)),
    )


def span_of(clock: WallClock, start: datetime, end: datetime) -> Span:
    """Whole minutes that hold the span, so that nothing taken is ever thought free."""
    return Span(clock.minute_of(start), minute_after(clock, end))


def minute_after(clock: WallClock, moment: datetime) -> int:
    """The whole minute at or after a moment."""
    return -((clock.origin - moment) // timedelta(minutes=1))


def _canners(row: HarvestDay, clock: WallClock, opening: Span, learned: Figures) -> tuple[Canner, ...]:
    taken = list(other_canner_times(row).select_related("canner"))
    return tuple(
        replace(
            as_canner(canner, on=row.date, service=_service(canner, taken, clock, opening)),
            pace=learned.canners.get(canner.pk, Pace()),
        )
        for canner in canners_of(row.kitchen)
    )


def _service(canner: CannerRow, taken: list[CannerTime], clock: WallClock, opening: Span) -> tuple[Span, ...]:
    """The minutes in which neither the canner nor its burner is booked; none for one out of service."""
    if canner.out_of_service_reason:
        return ()
    holes = [
        span_of(clock, one.starts_at, one.ends_at)
        for one in taken
        if one.canner_id == canner.pk or one.canner.burner_id == canner.burner_id
    ]
    return subtract((opening,), holes)


def tables_of(
    kitchen: Kitchen, clock: WallClock, standing: Sequence[Load], opens_at: datetime
) -> tuple[CoolingTable, ...]:
    """The cooling tables with the space that the jars of these loads and of members' slots take (rule S12)."""
    taken: defaultdict[int | None, list[TableUse]] = defaultdict(list)
    prefetch_related_objects(standing, "phases")
    for load in standing:
        began = load.jars_out_at or max((phase.ends_at for phase in load.phases.all()), default=opens_at)
        if load.stands_until is not None and load.stands_until > began:
            use = TableUse(span=span_of(clock, began, load.stands_until), area_sq_in=load.stand_area_sq_in)
            taken[load.cooling_table_id].append(use)
    for stand in slot_stands_after(kitchen, opens_at):
        use = TableUse(span=span_of(clock, stand.starts_at, stand.ends_at), area_sq_in=stand.area_sq_in)
        taken[stand.cooling_table_id].append(use)
    return tuple(as_table(table, taken[table.pk]) for table in cooling_tables_of(kitchen))


def people_of(row: HarvestDay) -> tuple[Person, ...]:
    """Who could do what on a day and when, without what they carry over from other days."""
    return _people(row, wall_clock(row.date, row.kitchen.time_zone), {})


def _people(row: HarvestDay, clock: WallClock, carried: Mapping[int, int]) -> tuple[Person, ...]:
    hours: dict[int, list[Span]] = {}
    for attendance in row.attendances.order_by("user_id", "starts_at"):
        hours.setdefault(attendance.user_id, []).append(
            span_of(clock, attendance.starts_at, attendance.ends_at)
        )
    standing = row.kitchen.memberships.filter(user_id__in=hours, left_at__isnull=True)
    memberships = list(standing.select_related("user").order_by("user_id"))
    here = {membership.user_id for membership in memberships}
    trained, said = trained_on(row.kitchen, row.date), said_in(row.kitchen, here)
    elsewhere = _watched_elsewhere(row, clock)
    return tuple(
        _person(
            membership,
            hours=subtract(merge(hours[membership.user_id]), elsewhere.get(membership.user_id, [])),
            trained=membership.user_id in trained,
            said=said.get(membership.user_id, Said()),
            here=here,
            carried=carried.get(membership.user_id, 0),
        )
        for membership in memberships
    )


def _watched_elsewhere(row: HarvestDay, clock: WallClock) -> dict[int, list[Span]]:
    """When people stand at a canner in booked time (rule S9), by user: the day's plan must not count on them then."""
    booked = HarvestDay.objects.filter(
        kitchen=row.kitchen_id,
        kind=DayKind.BOOKED,
        shifts__user__isnull=False,
        shifts__cancelled_at__isnull=True,
        shifts__starts_at__lt=row.closes_at,
        shifts__ends_at__gt=row.opens_at,
    )
    found: dict[int, list[Span]] = {}
    for user, starts_at, ends_at in booked.values_list(
        "shifts__user", "shifts__starts_at", "shifts__ends_at"
    ):
        found.setdefault(user, []).append(span_of(clock, starts_at, ends_at))
    return found


def _person(
    membership: Membership,
    *,
    hours: tuple[Span, ...],
    trained: bool,
    said: Said,
    here: set[int],
    carried: int,
) -> Person:
    return Person(
        id=str(membership.user_id),
        name=str(membership.user),
        hours=hours,
        trained=trained,
        under_16=membership.under_16,
        # Whoever has learned it, or is too young for it, is no learner at a canner, whatever was ticked before.
        learning=said.learning and not trained and not membership.under_16,
        cannot=frozenset(map(StationKind, said.cannot)),
        likes=frozenset(map(StationKind, said.likes)),
        most_minutes=said.most_minutes,
        comes_with=str(said.comes_with) if said.comes_with in here else None,
        carried_minutes=carried,
    )


def policy_of(kitchen: Kitchen, clock: WallClock, learned: Figures) -> Policy:
    """What the kitchen decided for itself, with what its records taught."""
    cut_off = kitchen.meat_cut_off
    return Policy(
        canners_per_person=kitchen.canners_per_person,
        fill_wait_limit_minutes=kitchen.fill_wait_limit_minutes,
        cool_down_minutes=kitchen.cool_down_minutes,
        share_under_longest=kitchen.share_under_longest,
        cleaning_minutes=kitchen.cleaning_minutes,
        cooling_stand_minutes=kitchen.cooling_hold_hours * 60,
        meat_cut_off=None if cut_off is None else clock.minute(f"{_whole_minute(cut_off):%H:%M}"),
        loading_minutes=kitchen.loading_minutes,
        unloading_minutes=unloading_minutes(kitchen, learned),
        prep_hands=kitchen.prep_hands,
        fill_hands=kitchen.fill_hands,
        fill_pace=learned.fill,
        break_minutes=kitchen.break_minutes,
        break_every_minutes=kitchen.break_every_minutes,
        meal_minutes=kitchen.meal_minutes,
        meal_after_minutes=kitchen.meal_after_minutes,
        longest_shift_minutes=kitchen.longest_shift_minutes,
        rest_minutes=kitchen.rest_minutes,
        walking_minutes=kitchen.walking_minutes,
        confirmed_processes=confirmed_process_keys(kitchen),
    )


def batch_of(row: BatchRow, clock: WallClock, learned: Figures) -> Batch:
    """A batch with the minutes of its work, the usual ones or what the kitchen's records taught."""
    prep, kettle_minutes = usual_figures(food=row.food_id, pack=row.pack, jar=row.jar)
    prep = round(prep * learned.prep_pace(row.food_id), 2)
    kettle_minutes = paced_minutes(kettle_minutes, learned.kettle_pace(row.food_id))
    own_prep, own_kettle = row.prep_person_minutes_per_jar, row.kettle_minutes
    return Batch(
        id=str(row.pk),
        member=str(row.member),
        food_id=row.food_id,
        pack=Pack(row.pack),
        jar=JarSize(row.jar),
        jars=row.jars,
        arrival=minute_after(clock, row.arrives_at),
        pickup=clock.minute_of(row.picks_up_at),
        prep_person_minutes_per_jar=prep if own_prep is None else own_prep,
        kettle_minutes=kettle_minutes if own_kettle is None else own_kettle,
        meat_or_fish=holds_meat_or_fish(row.food_id),
    )


def _whole_minute(moment: time) -> time:
    return moment.replace(second=0, microsecond=0)
