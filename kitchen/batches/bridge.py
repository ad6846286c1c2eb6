"""Intake against the published tables: which foods there are, how many jars, which processes for this
kitchen.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from kitchen.batches.rules import check_jars
from kitchen.errors import BadIntake
from kitchen.members.models import Kitchen
from kitchen.members.queries import confirmed_process_keys
from scheduler.canner_kind import CannerKind
from scheduler.caution import CAUTION
from scheduler.errors import NoPublishedProcess, SchedulerError
from scheduler.foods import find_food, foods, is_meat_or_fish, knows_food
from scheduler.jars import JarSize, Pack
from scheduler.process import (
    Process,
    check_altitude,
    find_processes,
    printed_processes,
    published_in_words,
)
from scheduler.work import usual_work
from scheduler.yields import Unit, jars_from, units_for

__all__ = ["CAUTION", "knows_food"]

_Choice = TypeVar("_Choice", bound=StrEnum)


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What an amount makes: the food as printed, the published range of jars, and remarks printed with it."""

    food_id: str
    food_name: str
    jars_low: int
    jars_high: int
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A published process as a page shows it.

    ``needs_confirmation``: shown, not planned until a lead confirms.
    """

    key: str
    canner: str
    words: str
    source: str
    needs_confirmation: bool
    never_planned: bool


def food_choices() -> list[tuple[str, str]]:
    """Id and printed name of every food, by name, for a form."""
    return sorted(((food.id, food.name) for food in foods()), key=lambda choice: choice[1].casefold())


def unit_choices(food: str) -> list[str]:
    """The units in which a yield is published for this food; always jars."""
    try:
        return [unit.value for unit in units_for(food)]
    except SchedulerError as error:
        raise BadIntake(error.message, remedy=error.remedy) from error


def estimate(*, food: str, amount: Decimal, unit: str, jar: str) -> Estimate:
    """How many jars an amount of food makes.

    Refused with ``BadIntake``: what the published yields do not know.
    """
    try:
        known = find_food(food)
        makes = jars_from(known.id, float(amount), _one_of(Unit, unit), _one_of(JarSize, jar))
    except SchedulerError as error:
        raise BadIntake(error.message, remedy=error.remedy) from error
    return Estimate(
        food_id=known.id, food_name=known.name, jars_low=makes.low, jars_high=makes.high, notes=makes.notes
    )


def weigh(*, kitchen: Kitchen, food: str, pack: str, jar: str, amount: Decimal, unit: str) -> Estimate:
    """What a declaration would make in this kitchen.

    Refused as declaring it would be: no jars or too many, nothing published that may be planned here (rule S1).
    """
    makes = estimate(food=food, amount=amount, unit=unit, jar=jar)
    check_jars(makes.jars_high)
    check_process(
        food=makes.food_id,
        pack=pack,
        jar=jar,
        kinds=kinds_in_use(kitchen),
        altitude_ft=kitchen.altitude_ft,
        confirmed=confirmed_process_keys(kitchen),
    )
    return makes


def kinds_in_use(kitchen: Kitchen) -> frozenset[str]:
    """The kinds of canner that the kitchen has in service."""
    return frozenset(kitchen.canners.filter(out_of_service_reason="").values_list("kind", flat=True))


def check_process(
    *,
    food: str,
    pack: str,
    jar: str,
    kinds: Iterable[str],
    altitude_ft: float,
    confirmed: frozenset[str],
) -> None:
    """Rule S1: refuse food, pack and jar without a published process that this kitchen may plan.

    ``kinds`` are the kinds of canner the kitchen owns. The refusal says what is published.
    """
    lines, refusals = _lines(food, pack, jar, kinds, altitude_ft)
    if any(process.schedulable(confirmed) for _, process in lines):
        return
    if lines:
        raise BadIntake(
            f"The process for this is read from one page only: {lines[0][1].words}.",
            remedy="A lead must confirm it against the current publication first (rule S1).",
            published=tuple(process.words for _, process in lines),
        )
    if not refusals:
        raise BadIntake(
            "This kitchen has no canner in use.", remedy="Ask a lead.", published=published_in_words(food)
        )
    raise refusals[0]


def process_lines(
    *, food: str, pack: str, jar: str, kinds: Iterable[str], altitude_ft: float, confirmed: frozenset[str]
) -> list[Line]:
    """Every published line for the kitchen's canners, for a page; empty when there is none."""
    lines, _ = _lines(food, pack, jar, kinds, altitude_ft)
    everything = frozenset(process.key for _, process in lines)
    return [
        Line(
            key=process.key,
            canner=kind.words,
            words=process.words,
            source=process.source,
            needs_confirmation=not process.schedulable(confirmed) and process.schedulable(everything),
            never_planned=not process.schedulable(everything),
        )
        for kind, process in lines
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToConfirm:
    """A published line that was seen on one page only, with every figure that has to be compared."""

    key: str
    food_name: str
    words: str
    canner: str
    pack: str
    jar: str
    headspace_in: float
    acid: tuple[str, ...]
    band: str
    source: str


def lines_to_confirm(altitude_ft: int) -> list[ToConfirm]:
    """The lines at this altitude that a lead has to confirm before they are planned (rule S1), by food."""
    names = dict(food_choices())
    found = [
        _to_confirm(names[one.food_id], one)
        for one in printed_processes()
        if one.schedulable(frozenset({one.key}))
        and not one.schedulable(frozenset())
        and one.covers(altitude_ft)
    ]
    return sorted(
        found, key=lambda line: (line.food_name.casefold(), line.canner, line.pack, line.jar, line.key)
    )


def _to_confirm(food_name: str, process: Process) -> ToConfirm:
    low, high = process.altitude_min_ft, process.altitude_max_ft
    return ToConfirm(
        key=process.key,
        food_name=food_name,
        words=process.words,
        canner=process.method.words,
        pack=process.pack.value,
        jar=process.jar.words,
        headspace_in=process.headspace_in,
        acid=tuple(dose.words for dose in process.acid),
        band=f"{low:,} ft and above" if high is None else f"{low:,} to {high:,} ft",
        source=process.source,
    )


def usual_figures(*, food: str, pack: str, jar: str) -> tuple[float, int]:
    """Prep in person-minutes a jar, and kettle minutes, until the kitchen has measured its own."""
    work = usual_work(food, Pack(pack), JarSize(jar))
    return work.prep_person_minutes_per_jar, work.kettle_minutes


def holds_meat_or_fish(food: str) -> bool:
    """True when the kitchen's cut-off and cleaning apply (rule S15)."""
    return is_meat_or_fish(food)


def _lines(
    food: str, pack: str, jar: str, kinds: Iterable[str], altitude_ft: float
) -> tuple[list[tuple[CannerKind, Process]], list[BadIntake]]:
    lines: list[tuple[CannerKind, Process]] = []
    refusals: list[BadIntake] = []
    size, way = _one_of(JarSize, jar), _one_of(Pack, pack)
    try:
        known = find_food(food)
        check_altitude(altitude_ft)
    except SchedulerError as error:
        raise BadIntake(error.message, remedy=error.remedy) from error
    for kind in [kind for kind in CannerKind if kind in set(kinds)]:
        try:
            lines += [(kind, process) for process in find_processes(known.id, way, size, kind, altitude_ft)]
        except NoPublishedProcess as error:
            refusals.append(BadIntake(error.message, remedy=error.remedy, published=error.published))
    return lines, refusals


def _one_of(choice: type[_Choice], value: str) -> _Choice:
    try:
        return choice(value)
    except ValueError as error:
        raise BadIntake(
            f"{value!r} is not one of the choices.", remedy=f"Choose from: {', '.join(choice)}."
        ) from error
