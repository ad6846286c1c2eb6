"""Reads instances of the Oven Scheduling Problem: ``name = value;`` with numbers, lists, tables and sets.

The format is that of Lackner, Mrkvicka, Musliu, Walkiewicz and Winter, "Exact methods for the Oven Scheduling Problem",
Constraints 28(2), 2023.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from scheduler.core.question import Job, Machine, Question, Weights
from scheduler.errors import BadDay
from scheduler.interval import Span

_ENTRY = re.compile(r"(\w+)\s*=\s*([^;]*);")
_NUMBERS = re.compile(r"-?\d+")


@dataclass(frozen=True, slots=True)
class Oven:
    """An instance: its question, and the number that norms its objective to at most 1."""

    question: Question
    normaliser: int


def read_oven_file(path: Path) -> Oven:
    """The instance in a file.

    Raises:
        BadDay: the file cannot be read or lacks an entry.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadDay(f"{path} cannot be read: {error}", remedy="Name a folder of instance files.") from error
    entries = dict(_ENTRY.findall(text))
    try:
        return _oven(entries)
    except KeyError as missing:
        raise BadDay(f"{path} has no entry {missing}.", remedy="Give the whole instance file.") from missing


def _oven(entries: dict[str, str]) -> Oven:
    read = _Reader(entries)
    families = read.one("a")
    question = Question(
        machines=read.machines(families),
        jobs=read.jobs(),
        setup_minutes=tuple(tuple(row[:families]) for row in read.table("setup_times")[:families]),
        setup_cost=tuple(tuple(row[:families]) for row in read.table("setup_costs")[:families]),
        weights=Weights(
            run=read.one("mult_factor_total_runtime"),
            late=read.one("mult_factor_finished_toolate"),
            setup=read.one("mult_factor_total_setupcosts"),
        ),
    )
    return Oven(question, read.one("upper_bound_integer_objective"))


class _Reader:
    """The entries of a file as numbers. ``KeyError`` names one that is missing."""

    def __init__(self, entries: dict[str, str]) -> None:
        self._entries = entries

    def numbers(self, name: str) -> list[int]:
        return [int(number) for number in _NUMBERS.findall(self._entries[name])]

    def table(self, name: str) -> list[list[int]]:
        rows = (_NUMBERS.findall(row) for row in self._entries[name].split("|"))
        return [[int(number) for number in row] for row in rows if row]

    def one(self, name: str) -> int:
        return self.numbers(name)[0]

    def machines(self, families: int) -> tuple[Machine, ...]:
        starts, ends = self.table("m_a_s"), self.table("m_a_e")
        capacity, initial = self.numbers("max_cap"), self.numbers("initState")
        return tuple(
            Machine(
                capacity=(capacity[m],) * families,
                windows=tuple(
                    Span(start, end)
                    for start, end in sorted(zip(starts[m], ends[m], strict=True))
                    if start < end
                ),
                family_at_first=initial[m] - 1,
            )
            for m in range(self.one("m"))
        )

    def jobs(self) -> tuple[Job, ...]:
        groups = re.findall(r"{([^}]*)}", self._entries["eligible_machine"])
        eligible = [{int(number) - 1 for number in _NUMBERS.findall(group)} for group in groups]
        least, most = self.numbers("min_time"), self.numbers("max_time")
        size, family, release, due = (
            self.numbers(name) for name in ("size", "attribute", "earliest_start", "latest_end")
        )
        return tuple(
            Job(
                family=family[j] - 1,
                size=size[j],
                release=release[j],
                due=due[j],
                minutes=tuple(least[j] if m in eligible[j] else None for m in range(self.one("m"))),
                most_minutes=most[j],
            )
            for j in range(self.one("n"))
        )
