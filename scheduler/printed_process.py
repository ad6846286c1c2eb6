"""A printed row of the process tables as a value, and the reading of the tables into such values."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from scheduler.acid import AcidDose, read_doses
from scheduler.canner_kind import CannerKind
from scheduler.foods import read_foods
from scheduler.jars import JarSize, Pack, stands_for
from scheduler.measure import in_words
from scheduler.tables import Row, Tables

LOWEST_ALTITUDE_FT = 0
"""Where the printed bands start. A kitchen below sea level lies outside them, and outside means refused (rule S1)."""

HIGHEST_ALTITUDE_FT = 8000
"""The program's own limit for every method. The dial-gauge tables of USDA AIB 539 end here, and so do some
sheets' top boiling-water bands; the weighted-gauge tables print no end, which is no promise that there is none."""

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


class Confidence(StrEnum):
    """How well a row was seen: two independent pages, one page, or memory only."""

    TWO_PAGES = "A"
    ONE_PAGE = "B"
    MEMORY = "C"

    @property
    def words(self) -> str:
        """What it means for the kitchen."""
        return _CONFIDENCE_WORDS[self]


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
        if self.pressure_psi is None:
            return f"{self.process_minutes} min"
        return f"{self.pressure_psi} lb for {self.process_minutes} min"

    def covers(self, altitude_ft: float) -> bool:
        """True when the printed band holds this altitude. A part of a foot counts as the next foot up."""
        foot = math.ceil(altitude_ft)
        return self.altitude_min_ft <= foot and (self.altitude_max_ft is None or foot <= self.altitude_max_ft)

    def schedulable(self, confirmed: frozenset[str] = frozenset()) -> bool:
        """Rule S1: A always, B once its key is among ``confirmed``, C never."""
        if self.confidence is Confidence.ONE_PAGE:
            return self.key in confirmed
        return self.confidence is Confidence.TWO_PAGES


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
    _check_bands(tables.processes, tuple(found.values()))
    return tuple(found.values())


_CANNER_OF: Mapping[Method, CannerKind] = {
    Method.PRESSURE_DIAL: CannerKind.DIAL,
    Method.PRESSURE_WEIGHTED: CannerKind.WEIGHTED,
    Method.BOILING_WATER: CannerKind.BOILING_WATER,
}

_CONFIDENCE_WORDS: Mapping[Confidence, str] = {
    Confidence.TWO_PAGES: "seen on two independent pages",
    Confidence.ONE_PAGE: "seen on one page: a lead confirms it against the current publication before it is scheduled",
    Confidence.MEMORY: "from memory only: shown, never scheduled",
}

_Choice = TypeVar("_Choice", bound=StrEnum)


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


def _check_bands(rows: tuple[Row, ...], processes: tuple[Process, ...]) -> None:
    """Every altitude up to the limit must lie in exactly one band of each printed table, or a lookup could miss."""
    tables: dict[tuple[str, Method, Pack, JarSize], dict[tuple[int, int], Row]] = {}
    for row, process in zip(rows, processes, strict=True):
        upper = HIGHEST_ALTITUDE_FT if process.altitude_max_ft is None else process.altitude_max_ft
        bands = tables.setdefault((process.food_id, process.method, process.pack, process.jar), {})
        bands.setdefault((process.altitude_min_ft, upper), row)
    for bands in tables.values():
        reached = LOWEST_ALTITUDE_FT - 1
        for (lower, upper), row in sorted(bands.items(), key=lambda band: band[0]):
            if lower != reached + 1:
                raise row.damaged(
                    f"an altitude band starts at {lower} ft; the one below it ends at {reached} ft"
                )
            reached = upper
        if reached < HIGHEST_ALTITUDE_FT:
            raise row.damaged(f"the altitude bands end at {reached} ft")
