"""Finding the published, tested process for a food, pack, jar, canner and altitude (rules S1, S3 and S7).

Every answer is a row exactly as printed in the USDA Complete Guide to Home Canning (AIB 539): nothing here adds,
rounds, interpolates or lowers a figure. What is not printed is refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from scheduler.canner_kind import CannerKind
from scheduler.errors import AltitudeOutOfRange, NoPublishedProcess
from scheduler.foods import Food, find_food
from scheduler.jars import JarSize, Pack, stands_for
from scheduler.printed_process import (
    HIGHEST_ALTITUDE_FT,
    LOWEST_ALTITUDE_FT,
    UNSTERILISED_FROM_MINUTES,
    Confidence,
    Method,
    Process,
    read_processes,
)
from scheduler.tables import packaged_tables

__all__ = [
    "HIGHEST_ALTITUDE_FT",
    "LOWEST_ALTITUDE_FT",
    "METHOD_OF",
    "STEAM_LIMIT_MINUTES",
    "UNSTERILISED_FROM_MINUTES",
    "Confidence",
    "Method",
    "Process",
    "check_altitude",
    "find_processes",
    "is_low_acid",
    "printed_processes",
    "process_named",
    "published_in_words",
]

STEAM_LIMIT_MINUTES = 45
"""Longest process in an atmospheric steam canner, the altitude addition counted, because its base water runs out
(rule S7). Source: Univ. of Missouri Extension, Atmospheric steam canning (2017); that the altitude addition counts
is the cautious reading, no source."""

METHOD_OF: Mapping[CannerKind, Method] = {
    CannerKind.DIAL: Method.PRESSURE_DIAL,
    CannerKind.WEIGHTED: Method.PRESSURE_WEIGHTED,
    CannerKind.BOILING_WATER: Method.BOILING_WATER,
    CannerKind.STEAM: Method.BOILING_WATER,
}
"""The printed method whose rows a canner may run."""


def find_processes(
    food: str, pack: Pack, jar: JarSize, kind: CannerKind, altitude_ft: float
) -> tuple[Process, ...]:
    """Every printed line for exactly this, each to be taken whole (rule S3); at least one.

    ``food`` is an id or a printed name. ``jar`` may borrow the process of a printed jar only by rule S1. A steam
    canner gets the boiling-water lines of at most 45 minutes (rule S7). Rows of every confidence come back: ask
    ``schedulable``.

    Refused with ``UnknownFood``, ``AltitudeOutOfRange`` or ``NoPublishedProcess``, which says what is published.
    """
    known = find_food(food)
    check_altitude(altitude_ft)
    printed = _printed_jar(known, pack, jar, kind)
    lines = tuple(
        process
        for process in _packaged_by_food()[known.id]
        if process.method is METHOD_OF[kind]
        and process.pack is pack
        and process.jar is printed
        and process.covers(altitude_ft)
    )
    return _within_steam_limit(known, lines) if kind is CannerKind.STEAM else lines


def check_altitude(altitude_ft: float) -> None:
    """``AltitudeOutOfRange`` unless the altitude lies from 0 to 8,000 ft, both included."""
    if LOWEST_ALTITUDE_FT <= altitude_ft <= HIGHEST_ALTITUDE_FT:
        return
    raise AltitudeOutOfRange(
        f"The altitude is {altitude_ft:g} ft; the published bands used here run from {LOWEST_ALTITUDE_FT} to "
        f"{HIGHEST_ALTITUDE_FT:,} ft.",
        remedy="Check the kitchen's altitude in feet; if it is right, ask the local extension office for a process.",
    )


def printed_processes(food: str | None = None) -> tuple[Process, ...]:
    """Every printed row in the tables' order, or those of one food: what a lead reads through to confirm."""
    if food is not None:
        return _packaged_by_food()[find_food(food).id]
    return tuple(process for rows in _packaged_by_food().values() for process in rows)


def process_named(key: str) -> Process:
    """The printed row with this key. ``NoPublishedProcess`` when there is none, for instance since a correction."""
    found = _packaged_by_key().get(key)
    if found is None:
        raise NoPublishedProcess(
            f"No published row is named {key!r}.",
            remedy="Look the process up again and confirm it anew.",
            published=(),
        )
    return found


def is_low_acid(food: str) -> bool:
    """True when only pressure processes are published for the food (rule S7)."""
    return _packaged_by_food()[find_food(food).id][0].low_acid


@cache
def published_in_words(food: str) -> tuple[str, ...]:
    """What is published for a food, a line for each canner and pack with its jars."""
    jars: dict[tuple[Method, Pack], list[JarSize]] = {}
    for process in printed_processes(food):
        seen = jars.setdefault((process.method, process.pack), [])
        if process.jar not in seen:
            seen.append(process.jar)
    return tuple(
        f"{method.words}, {pack} pack, {' or '.join(jar.words for jar in sizes)} jars"
        for (method, pack), sizes in jars.items()
    )


@cache
def _packaged_by_food() -> Mapping[str, tuple[Process, ...]]:
    rows: dict[str, list[Process]] = {}
    for process in read_processes(packaged_tables()):
        rows.setdefault(process.food_id, []).append(process)
    return {food_id: tuple(of_food) for food_id, of_food in rows.items()}


@cache
def _packaged_by_key() -> Mapping[str, Process]:
    return {process.key: process for process in printed_processes()}


def _printed_jar(food: Food, pack: Pack, jar: JarSize, kind: CannerKind) -> JarSize:
    """The printed jar whose process this jar takes: itself, or the nearest that rule S1 lets it borrow from."""
    of_method = [process for process in _packaged_by_food()[food.id] if process.method is METHOD_OF[kind]]
    printed = {process.jar for process in of_method if process.pack is pack}
    for candidate in stands_for(jar):
        if candidate in printed:
            return candidate
    asked = f"{food.name}, {pack} pack, {jar.words} jars, {kind.words}"
    if not of_method and not kind.is_pressure:
        why = "it is a low-acid food, canned only under pressure (rule S7)"
    elif not of_method:
        why = "no process for this canner is published"
    elif not printed:
        why = "this pack is not published for this canner"
    else:
        why = "this jar is not published, and no printed jar may stand for it (rule S1)"
    raise _nothing_published(food, f"{asked}: {why}.")


def _within_steam_limit(food: Food, lines: tuple[Process, ...]) -> tuple[Process, ...]:
    short = tuple(process for process in lines if process.process_minutes <= STEAM_LIMIT_MINUTES)
    if not short:
        raise _nothing_published(
            food,
            f"{food.name} takes {lines[0].process_minutes} min here; an atmospheric steam canner may run "
            f"{STEAM_LIMIT_MINUTES} min at most (rule S7).",
        )
    return short


def _nothing_published(food: Food, message: str) -> NoPublishedProcess:
    published = published_in_words(food.id)
    return NoPublishedProcess(
        message, remedy=f"Published for it: {'; '.join(published)}.", published=published
    )
