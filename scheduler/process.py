"""Published, tested processes, and the lookup by food, pack, jar, canner and altitude (rules S1, S3, S7, S14).

Every answer is a row exactly as printed in the USDA Complete Guide to Home Canning (AIB 539): nothing here adds,
rounds, interpolates or lowers a figure. What is not printed is refused.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import TypeVar

from scheduler.acid import AcidDose, read_doses
from scheduler.canner_kind import CannerKind
from scheduler.errors import AltitudeOutOfRange, NoPublishedProcess
from scheduler.foods import Food, find_food, read_foods
from scheduler.jars import JarSize, Pack, stands_for
from scheduler.measure import in_words
from scheduler.tables import Row, Tables, packaged_tables

LOWEST_ALTITUDE_FT = 0
"""Where the printed bands start. A kitchen below sea level lies outside them, and outside means refused (rule S1)."""

HIGHEST_ALTITUDE_FT = 8000
"""The program's own limit for every method. The dial-gauge tables of USDA AIB 539 end here, and so do some
sheets' top boiling-water bands; the weighted-gauge tables print no end, which is no promise that there is none."""

STEAM_LIMIT_MINUTES = 45
"""Longest process in an atmospheric steam canner, the altitude addition counted, because its base water runs out
(rule S7). Source: Univ. of Missouri Extension, Atmospheric steam canning (2017); that the altitude addition counts
is the cautious reading, no source."""

UNSTERILISED_FROM_MINUTES = 10
"""Jars for a shorter process are sterilised first (rule S14). Source: USDA AIB 539, Sterilization of Empty Jars."""


class Method(StrEnum):
    """The method of a printed row. The value is the spelling of the tables."""

    PRESSURE_DIAL = "pressure_dial"
    PRESSURE_WEIGHTED = "pressure_weighted"
    BOILING_WATER = "boiling_water"

    @property
    def words(self) -> str:
        """The canner it is printed for, as a person would say it."""
        return _CANNER_OF[self].words


METHOD_OF: Mapping[CannerKind, Method] = {
    CannerKind.DIAL: Method.PRESSURE_DIAL,
    CannerKind.WEIGHTED: Method.PRESSURE_WEIGHTED,
    CannerKind.BOILING_WATER: Method.BOILING_WATER,
    CannerKind.STEAM: Method.BOILING_WATER,
}
"""The printed method whose rows a canner may run."""

_CANNER_OF: Mapping[Method, CannerKind] = {
    Method.PRESSURE_DIAL: CannerKind.DIAL,
    Method.PRESSURE_WEIGHTED: CannerKind.WEIGHTED,
    Method.BOILING_WATER: CannerKind.BOILING_WATER,
}


class Confidence(StrEnum):
    """How well a row was seen: two independent pages, one page, or memory only."""

    TWO_PAGES = "A"
    ONE_PAGE = "B"
    MEMORY = "C"

    @property
    def words(self) -> str:
        """What it means for the kitchen."""
        return _CONFIDENCE_WORDS[self]


_CONFIDENCE_WORDS: Mapping[Confidence, str] = {
    Confidence.TWO_PAGES: "seen on two independent pages",
    Confidence.ONE_PAGE: "seen on one page: a lead confirms it against the current publication before it is scheduled",
    Confidence.MEMORY: "from memory only: shown, never scheduled",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Process:
    """One printed row: a food, pack and jar, a method with its pressure and minutes, and its altitude band.

    ``jar`` is the jar as printed, never smaller than the one asked about. Band ends are inclusive;
    ``altitude_max_ft`` is None where no upper end is printed. ``pressure_psi`` is the gauge pressure in pounds, None
    in boiling water. ``acid`` lists the ways to acidify one jar, any one of them; empty when the food needs none.
    ``low_acid`` foods are canned only under pressure.
    """

    food_id: str
    method: Method
    pack: Pack
    jar: JarSize
    headspace_in: float
    process_minutes: int
    altitude_min_ft: int
    altitude_max_ft: int | None
    pressure_psi: int | None
    source_id: str
    source: str
    confidence: Confidence
    acid: tuple[AcidDose, ...]
    low_acid: bool

    @property
    def key(self) -> str:
        """Names the printed row for a lead's confirmation.

        The figures are part of it, so a corrected row must be confirmed anew.
        """
        band = (
            f"{self.altitude_min_ft}ft-up"
            if self.altitude_max_ft is None
            else f"{self.altitude_min_ft}-{self.altitude_max_ft}ft"
        )
        pressure = "" if self.pressure_psi is None else f":{self.pressure_psi}psi"
        return (
            f"{self.food_id}:{self.method}:{self.pack}:{self.jar}:{band}"
            f":{self.process_minutes}min{pressure}:{self.headspace_in}in"
        )

    @property
    def sterilise_jars(self) -> bool:
        """True when the empty jars are sterilised before filling (rule S14)."""
        return self.process_minutes < UNSTERILISED_FROM_MINUTES

    @property
    def headspace_words(self) -> str:
        """The headspace as a person would say it: "1/2 in"."""
        return f"{in_words(self.headspace_in)} in"

    @property
    def words(self) -> str:
        """Pressure and time in one breath: "10 lb for 20 min"."""
        lead = "" if self.pressure_psi is None else f"{self.pressure_psi} lb for "
        return f"{lead}{self.process_minutes} min"

    def covers(self, altitude_ft: float) -> bool:
        """True when the printed band holds this altitude. A part of a foot counts as the next foot up."""
        foot = math.ceil(altitude_ft)
        return self.altitude_min_ft <= foot and (self.altitude_max_ft is None or foot <= self.altitude_max_ft)

    def schedulable(self, confirmed: frozenset[str] = frozenset()) -> bool:
        """Rule S1: A always, B once its key is among ``confirmed``, C never."""
        if self.confidence is Confidence.ONE_PAGE:
            return self.key in confirmed
        return self.confidence is Confidence.TWO_PAGES


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
    if not lines:
        raise AltitudeOutOfRange(
            f"{known.name}: no printed band holds {altitude_ft:g} ft.",
            remedy="Ask the local extension office for a process.",
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


def read_processes(tables: Tables) -> tuple[Process, ...]:
    """The processes of a set of tables in printed order. ``TablesDamaged`` names the line that cannot be."""
    reading = _Reading.of(tables)
    found: dict[str, Process] = {}
    for row in tables.processes:
        process = reading.process(row)
        _check_row(row, process)
        if process.key in found:
            raise row.damaged("the row is printed twice")
        found[process.key] = process
    return tuple(found.values())


_Choice = TypeVar("_Choice", bound=StrEnum)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """What a row of the process table is read against."""

    food_ids: frozenset[str]
    boiled: frozenset[str]
    sources: Mapping[str, str]
    doses: Mapping[tuple[str, JarSize], tuple[AcidDose, ...]]

    @classmethod
    def of(cls, tables: Tables) -> _Reading:
        return cls(
            food_ids=frozenset(read_foods(tables)),
            boiled=frozenset(
                row.text("food_id") for row in tables.processes if row.text("method") == Method.BOILING_WATER
            ),
            sources={row.text("source_id"): row.text("source") for row in tables.process_sources},
            doses=read_doses(tables),
        )

    def process(self, row: Row) -> Process:
        food_id, jar = row.text("food_id"), _read(JarSize, row, "jar_size")
        if food_id not in self.food_ids:
            raise row.damaged(f"{food_id} is not among the foods")
        return Process(
            food_id=food_id,
            method=_read(Method, row, "method"),
            pack=_read(Pack, row, "pack"),
            jar=jar,
            headspace_in=float(row.number("headspace_in")),
            process_minutes=row.whole("process_minutes"),
            altitude_min_ft=row.whole("altitude_min_ft"),
            altitude_max_ft=row.whole_or_none("altitude_max_ft"),
            pressure_psi=row.whole_or_none("pressure_psi"),
            source_id=row.text("source_id"),
            source=self._source(row),
            confidence=_read(Confidence, row, "confidence"),
            acid=self._acid(row, food_id, jar),
            low_acid=food_id not in self.boiled,
        )

    def _source(self, row: Row) -> str:
        source_id = row.text("source_id")
        if source_id not in self.sources:
            raise row.damaged(f"source {source_id} is not listed")
        return self.sources[source_id]

    def _acid(self, row: Row, food_id: str, jar: JarSize) -> tuple[AcidDose, ...]:
        """The doses of the printed jar, or of the larger one it stands for; none for such a food is damage."""
        if all(acidified != food_id for acidified, _ in self.doses):
            return ()
        for size in stands_for(jar):
            if (food_id, size) in self.doses:
                return self.doses[food_id, size]
        raise row.damaged(f"{food_id} must be acidified, and no amount is given for {jar.words} jars")


def _read(choice: type[_Choice], row: Row, column: str) -> _Choice:
    try:
        return choice(row.text(column))
    except ValueError:
        raise row.damaged(f"{column} is {row.text(column)!r}") from None


def _check_row(row: Row, process: Process) -> None:
    problems: Iterable[tuple[bool, str]] = (
        (process.process_minutes < 1, "the process has no minutes"),
        (process.headspace_in <= 0, "no headspace is given"),
        (
            (process.pressure_psi is None) != (process.method is Method.BOILING_WATER),
            "pressure and method disagree",
        ),
        (process.pressure_psi == 0, "the pressure is 0"),
        (
            process.altitude_max_ft is not None and process.altitude_max_ft <= process.altitude_min_ft,
            "the altitude band ends before it starts",
        ),
    )
    for wrong, what in problems:
        if wrong:
            raise row.damaged(what)
