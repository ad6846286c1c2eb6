"""Where a batch may go: for each canner and printed line, the cycle, how many jars and how long to fill them."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.canner import Canner, check_gauge, target_reading_psi
from scheduler.cycle import Cycle, cycle_for
from scheduler.errors import CannerOutOfService, DoesNotFit, NoPublishedProcess, SchedulerError
from scheduler.jars import SHAPES, JarSize
from scheduler.printed_process import Process
from scheduler.problem import Batch, Day, StationKind
from scheduler.process import find_processes
from scheduler.rack import capacity, check_size
from scheduler.work import fill_minutes

Family = tuple[str, int | None, int]
"""Method, pressure in psi, minutes: what the jars of one load must agree in (rule S2)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to run jars of a batch: this canner, this printed line taken whole (rule S3).

    ``fill`` are the minutes in which a full canner is filled, which a part load is given too; ``fill_hands``
    fill it. ``family`` is what other jars must agree with to share the load, ``minutes`` how long the canner
    is taken (fill and cycle), ``heat_on`` the minutes from the start of the fill to heat on and
    ``watch_minutes`` from there to heat off.
    """

    batch: int
    canner: int
    process: Process
    cycle: Cycle
    jars: int
    fill: int
    fill_hands: int
    target_reading_psi: float | None
    family: Family
    minutes: int
    heat_on: int
    watch_minutes: int


@dataclass(frozen=True, slots=True)
class Options:
    """All options of a day by batch, and in words why a batch or a canner has none."""

    by_batch: tuple[tuple[Option, ...], ...]
    refusals: tuple[tuple[str, ...], ...]
    out_of_service: tuple[str, ...]


def options_of(day: Day) -> Options:
    """Every option that the published tables and the canners allow (rules S1, S3, S5, S7, S8)."""
    usable, out = _usable_canners(day)
    rows: list[tuple[Option, ...]] = []
    refusals: list[tuple[str, ...]] = []
    for index, batch in enumerate(day.batches):
        found: list[Option] = []
        why: list[str] = []
        for number in usable:
            try:
                found += _options(day, index, batch, number, why)
            except SchedulerError as refusal:
                why.append(f"{day.canners[number].name}: {refusal.message}")
        rows.append(tuple(found))
        refusals.append(tuple(dict.fromkeys(why or out)))
    return Options(tuple(rows), tuple(refusals), tuple(out))


def longest_watch_minutes(options: Options) -> int:
    """The longest that any load may have to be watched."""
    return max((option.watch_minutes for row in options.by_batch for option in row), default=0)


def _usable_canners(day: Day) -> tuple[list[int], list[str]]:
    usable: list[int] = []
    out: list[str] = []
    for number, canner in enumerate(day.canners):
        try:
            check_gauge(canner, day.date, until=day.last_date)
            check_size(canner)
        except (CannerOutOfService, DoesNotFit) as refusal:
            out.append(f"{canner.name}: {refusal}")
        else:
            usable.append(number)
    return usable, out


def _options(day: Day, index: int, batch: Batch, number: int, why: list[str]) -> list[Option]:
    canner = day.canners[number]
    found = []
    for process in find_processes(batch.food_id, batch.pack, batch.jar, canner.kind, day.altitude_ft):
        if not process.schedulable(day.policy.confirmed_processes):
            why.append(
                f"{canner.name}: {process.words} was seen on one page only; a lead confirms it against the current"
                f" guide first ({process.key})"
                if process.confidence == "B"
                else f"{canner.name}: {process.words} is from memory and never scheduled"
            )
            continue
        found.append(_option(day, index, batch, number, process))
    return [option for option in found if option.jars > 0]


def _option(day: Day, index: int, batch: Batch, number: int, process: Process) -> Option:
    canner = day.canners[number]
    jars = _most_jars(day, batch, canner, process)
    cycle = cycle_with(day, number, process, (batch.jar,))
    hands = min(day.policy.fill_hands, most_hands(day, StationKind.FILL))
    reading = None if process.pressure_psi is None else target_reading_psi(canner, process.pressure_psi)
    limit = day.policy.fill_wait_limit_minutes - day.policy.loading_minutes
    pace = day.policy.fill_pace
    # Rule S10: fewer jars, when a full canner could not be filled within the limit.
    while jars > 0 and hands > 0 and fill_minutes({batch.jar: jars}, hands, pace) > limit:
        jars -= 1
    if jars == 0 or hands == 0:
        raise NoPublishedProcess(
            "no jar could be filled within the waiting limit (rule S10)",
            remedy="Add hands at the fill station.",
            published=(),
        )
    fill = fill_minutes({batch.jar: jars}, hands, pace)
    return Option(
        batch=index,
        canner=number,
        process=process,
        cycle=cycle,
        jars=jars,
        fill=fill,
        fill_hands=hands,
        target_reading_psi=reading,
        family=(str(process.method), process.pressure_psi, process.process_minutes),
        minutes=fill + cycle.total_minutes,
        heat_on=fill + cycle.heat_on,
        watch_minutes=cycle.heat_off - cycle.heat_on,
    )


def _most_jars(day: Day, batch: Batch, canner: Canner, process: Process) -> int:
    """The canner's count, or what the largest kettle holds when the food is cooked first."""
    jars = capacity(canner, batch.jar, process_minutes=process.process_minutes)
    if batch.kettle_minutes == 0:
        return jars
    largest_qt = max((kettle.volume_qt for kettle in day.kettles), default=0.0)
    return min(jars, int(largest_qt / SHAPES[batch.jar].volume_qt + 1e-9))


def cycle_with(day: Day, canner: int, process: Process, jars: tuple[JarSize, ...]) -> Cycle:
    """The cycle of a load on this canner under the kitchen's policy, with these sizes of jar in it."""
    vessel = day.canners[canner]
    return cycle_for(
        vessel,
        next(burner for burner in day.burners if burner.id == vessel.burner_id),
        process,
        jars,
        cool_down_setting_minutes=day.policy.cool_down_minutes,
        loading_minutes=day.policy.loading_minutes,
        unloading_minutes=day.policy.unloading_minutes,
    )


def most_hands(day: Day, kind: StationKind) -> int:
    """The most hands a station ever has; where it is not listed, as many as there are people."""
    for station in day.stations:
        if station.kind is kind:
            return max((hands.count for hands in station.hands), default=0)
    return sum(kind not in person.cannot for person in day.people)
