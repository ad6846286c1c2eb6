"""A day as a TOML file that a person can write: ``read_day`` reads it, ``schema`` describes it.

Everything wrong is refused with ``BadDayFile``, which names the line and says what to write instead. A dial gauge whose
check is overdue is no fault of the file: its canner stays out of service, and the plan says so.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence

from pydantic import ValidationError

from scheduler.canner import GAS_EFFICIENCY, Burner, Canner
from scheduler.day_refusal import at_line, first_refusal, refused_at
from scheduler.day_tables import BatchTable, CannerTable, DayTables, PersonTable, StationTable
from scheduler.day_times import DayTimes
from scheduler.errors import DoesNotFit, NoPublishedProcess
from scheduler.foods import Food, find_food
from scheduler.interval import merge, subtract
from scheduler.pace import Pace
from scheduler.problem import (
    Batch,
    CoolingTable,
    Day,
    Hands,
    Kettle,
    Person,
    Policy,
    Station,
    TableUse,
)
from scheduler.process import Process, check_altitude, find_processes
from scheduler.rack import capacity
from scheduler.toml_lines import Path, TomlLines
from scheduler.work import Work, usual_work
from scheduler.yields import jars_from, units_for

# A typing guard, not a figure of the trade.
MOST_LETTERS = 1_000_000

_TOML_LINE = re.compile(r" ?\(at (?:line (?P<line>\d+), column \d+|end of document)\)")


def read_day(text: str) -> Day:
    """The day that a file describes. ``BadDayFile`` names the first line that is wrong, and the remedy."""
    if len(text) > MOST_LETTERS:
        raise at_line(
            1,
            "The file is too long for a day.",
            f"Keep it under {MOST_LETTERS:,} letters: one day, one file.",
        )
    content = _parse(text)
    lines = TomlLines(text)
    try:
        tables = DayTables.model_validate(content)
    except ValidationError as error:
        raise first_refusal(error, DayTables, lines) from None
    return _Reader(tables, lines).day()


def schema() -> dict[str, object]:
    """The JSON Schema (2020-12) of a day file, for editors that check TOML by one."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A community kitchen's day",
        **{key: value for key, value in DayTables.model_json_schema().items() if key != "title"},
    }


def _parse(text: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = _TOML_LINE.search(str(error))
        line = int(found["line"]) if found and found["line"] else max(1, len(text.splitlines()))
        said = _TOML_LINE.sub("", str(error)).rstrip(".")
        raise at_line(
            line,
            f"This is not TOML: {said[:1].lower()}{said[1:]}.",
            'Write key = value, text in "quotes", and each [table] once.',
        ) from None


class _Reader:
    """Turns the tables of one file into a day, keeping the lines for refusals."""

    def __init__(self, tables: DayTables, lines: TomlLines) -> None:
        self._tables = tables
        self._lines = lines
        self._times = DayTimes(tables.kitchen, lines)
        self._opening = self._times.opening()

    def day(self) -> Day:
        kitchen = self._tables.kitchen
        with refused_at(self._lines, ("kitchen", "altitude_ft")):
            check_altitude(kitchen.altitude_ft)
        self._refuse_twice()
        burners = self._burners()
        canners = tuple(self._canner(place, table) for place, table in enumerate(self._tables.canner))
        with refused_at(self._lines, ("kitchen",)):
            return Day(
                kitchen=kitchen.name,
                altitude_ft=kitchen.altitude_ft,
                time_zone=kitchen.time_zone,
                date=kitchen.date,
                origin=self._times.clock.origin,
                opening=self._opening,
                canners=canners,
                burners=burners,
                kettles=self._kettles(),
                stations=tuple(self._station(place, one) for place, one in enumerate(self._tables.station)),
                tables=self._cooling_tables(),
                people=tuple(self._person(place, one) for place, one in enumerate(self._tables.person)),
                policy=self._policy(),
                batches=tuple(
                    self._batch(place, one, canners) for place, one in enumerate(self._tables.batch)
                ),
            )

    def _refuse_twice(self) -> None:
        tables = self._tables
        ids: tuple[tuple[str, str, Iterable[str]], ...] = (
            ("burner", "id", (one.id for one in tables.burner)),
            ("canner", "id", (one.id for one in tables.canner)),
            ("kettle", "id", (one.id for one in tables.kettle)),
            ("station", "kind", (one.kind for one in tables.station)),
            ("table", "id", (one.id for one in tables.table)),
            ("person", "id", (one.id for one in tables.person)),
            ("batch", "id", (one.id for one in tables.batch)),
        )
        for table, key, values in ids:
            seen: set[str] = set()
            for place, value in enumerate(values):
                if value in seen:
                    raise at_line(
                        self._lines.line((table, place, key)),
                        f"There are two [[{table}]] with {key} {str(value)!r}.",
                        f"Give every {table} {'an id of its own' if key == 'id' else 'once'}.",
                    )
                seen.add(value)

    def _burners(self) -> tuple[Burner, ...]:
        burners = []
        for place, one in enumerate(self._tables.burner):
            with refused_at(self._lines, ("burner", place)):
                efficiency = GAS_EFFICIENCY if one.efficiency is None else one.efficiency
                burners.append(
                    Burner(id=one.id, name=one.name or one.id, power_w=one.power_w, efficiency=efficiency)
                )
        return tuple(burners)

    def _check_burner(self, burner_id: str, path: Path) -> None:
        known = [burner.id for burner in self._tables.burner]
        if burner_id not in known:
            raise at_line(
                self._lines.line(path),
                f"There is no burner {burner_id!r}.",
                f"Name one of {', '.join(known)}, or add it as a [[burner]].",
            )

    def _canner(self, place: int, table: CannerTable) -> Canner:
        path = ("canner", place)
        self._check_burner(table.burner, (*path, "burner"))
        closed = [
            self._times.span(one, (*path, "out_of_service", entry))
            for entry, one in enumerate(table.out_of_service)
        ]
        with refused_at(self._lines, path):
            return Canner(
                **table.model_dump(exclude={"name", "burner", "out_of_service", "pace"}),
                name=table.name or table.id,
                pace=Pace(**table.pace.model_dump()),
                burner_id=table.burner,
                service=subtract(self._opening, closed),
            )

    def _kettles(self) -> tuple[Kettle, ...]:
        for place, one in enumerate(self._tables.kettle):
            if one.burner is not None:
                self._check_burner(one.burner, ("kettle", place, "burner"))
        return tuple(
            Kettle(id=one.id, name=one.name or one.id, volume_qt=one.volume_qt, burner_id=one.burner)
            for one in self._tables.kettle
        )

    def _station(self, place: int, table: StationTable) -> Station:
        path = ("station", place)
        if (table.hands is None) == (not table.hours):
            raise at_line(
                self._lines.line(path),
                f"The station {table.kind} needs either hands or hours.",
                "Give hands = 2 for the whole day, or hours with from, to and hands.",
            )
        if table.hands is not None:
            hands = tuple(Hands(span=span, count=table.hands) for span in self._opening)
        else:
            spans = self._times.spans(table.hours, (*path, "hours"))
            hands = tuple(
                Hands(span=span, count=one.hands) for span, one in zip(spans, table.hours, strict=True)
            )
        return Station(kind=table.kind, hands=hands)

    def _cooling_tables(self) -> tuple[CoolingTable, ...]:
        return tuple(
            CoolingTable(
                id=one.id,
                name=one.name or one.id,
                area_sq_in=one.area_sq_in,
                taken=tuple(
                    TableUse(
                        span=self._times.span(use, ("table", place, "taken", entry)),
                        area_sq_in=use.area_sq_in,
                    )
                    for entry, use in enumerate(one.taken)
                ),
            )
            for place, one in enumerate(self._tables.table)
        )

    def _person(self, place: int, table: PersonTable) -> Person:
        if (table.trained or table.learning) and table.under_16:
            raise at_line(
                self._lines.line(("person", place, "under_16")),
                f"{table.name or table.id} is under 16 and marked as trained or learning for canners.",
                "Nobody under 16 stands at a canner: take one of the two marks away.",
            )
        hours = self._times.spans(table.hours, ("person", place, "hours"))
        known = {one.id for one in self._tables.person}
        if table.comes_with is not None and table.comes_with not in known:
            raise at_line(
                self._lines.line(("person", place, "comes_with")),
                f"{table.name or table.id} comes with {table.comes_with!r}, who is not among the people.",
                "Name the id of a [[person]].",
            )
        with refused_at(self._lines, ("person", place)):
            return Person(
                id=table.id,
                name=table.name or table.id,
                hours=merge(hours) if hours else self._opening,
                trained=table.trained,
                under_16=table.under_16,
                learning=table.learning,
                cannot=frozenset(table.cannot),
                likes=frozenset(table.likes),
                most_minutes=table.most_minutes,
                comes_with=table.comes_with,
                carried_minutes=table.carried_minutes,
            )

    def _policy(self) -> Policy:
        table = self._tables.policy
        given = table.model_dump(exclude_none=True, exclude={"meat_cut_off", "confirmed_processes"})
        for key, value in given.items():
            with refused_at(self._lines, ("policy", key)):
                Policy(**{key: value})
        cut_off = table.meat_cut_off
        return Policy(
            **given,
            meat_cut_off=None if cut_off is None else self._times.minute(cut_off, ("policy", "meat_cut_off")),
            confirmed_processes=frozenset(table.confirmed_processes or ()),
        )

    def _batch(self, place: int, table: BatchTable, canners: Sequence[Canner]) -> Batch:
        path = ("batch", place)
        with refused_at(self._lines, (*path, "food")):
            food = find_food(table.food)
        arrival = self._times.minute(table.arrives, (*path, "arrives"))
        pickup = self._times.minute(table.pickup, (*path, "pickup"))
        if pickup <= arrival:
            raise at_line(
                self._lines.line((*path, "pickup")),
                f"Batch {table.id} would be picked up at {table.pickup}, not after it arrives at {table.arrives}.",
                "Set the pick-up after the arrival.",
            )
        with refused_at(self._lines, (*path, "jar")):
            _check_runs(table, food, canners, self._tables.kitchen.altitude_ft)
        work = _work(table, food)
        with refused_at(self._lines, (*path, "amount")):
            return Batch(
                id=table.id,
                member=table.member,
                food_id=food.id,
                pack=table.pack,
                jar=table.jar,
                jars=self._jars(table, food, path),
                arrival=arrival,
                pickup=pickup,
                prep_person_minutes_per_jar=work.prep_person_minutes_per_jar,
                kettle_minutes=work.kettle_minutes,
                meat_or_fish=food.meat_or_fish,
            )

    def _jars(self, table: BatchTable, food: Food, path: Path) -> int:
        key = "amount" if table.unit in units_for(food.id) else "unit"
        with refused_at(self._lines, (*path, key)):
            return jars_from(food.id, table.amount, table.unit, table.jar).high


def _work(table: BatchTable, food: Food) -> Work:
    """The work as the file gives it, else the usual work of this food."""
    usual = usual_work(food.id, table.pack, table.jar)
    prep, kettle = table.prep_person_minutes_per_jar, table.kettle_minutes
    return Work(
        prep_person_minutes_per_jar=usual.prep_person_minutes_per_jar if prep is None else prep,
        kettle_minutes=usual.kettle_minutes if kettle is None else kettle,
    )


def _check_runs(table: BatchTable, food: Food, canners: Sequence[Canner], altitude_ft: float) -> None:
    """Refused unless some canner here may run some printed line for these jars and one such jar stands in it.

    How sure a line is (confidence A, B or C) does not matter here: the planner leaves such jars out, with the reason.
    """
    refusals: list[NoPublishedProcess] = []
    runs: list[tuple[Canner, Process]] = []
    for canner in canners:
        try:
            lines = find_processes(food.id, table.pack, table.jar, canner.kind, altitude_ft)
        except NoPublishedProcess as refusal:
            refusals.append(refusal)
        else:
            runs += [(canner, line) for line in lines]
    asked = f"{food.name}, {table.pack} pack, {table.jar.words} jars"
    if not runs:
        messages = {refusal.message for refusal in refusals}
        message = f"{asked}: no canner of this kitchen may run this."
        raise NoPublishedProcess(
            messages.pop() if len(messages) == 1 else message,
            remedy=refusals[0].remedy,
            published=refusals[0].published,
        )
    if not any(capacity(canner, table.jar, process_minutes=line.process_minutes) for canner, line in runs):
        raise DoesNotFit(
            f"{asked}: every canner that may run this is too small for the jar.",
            remedy="Choose a smaller published jar, or bring a larger canner.",
        )
