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
    def numbers(name: str) -> list[int]:
        return [int(number) for number in _NUMBERS.findall(entries[name])]

    def table(name: str) -> list[list[int]]:
        rows = (_NUMBERS.findall(row) for row in entries[name].split("|"))
        return [[int(number) for number in row] for row in rows if row]

    def one(name: str) -> int:
        return numbers(name)[0]

    families, machines, jobs = one("a"), one("m"), one("n")
    starts, ends = table("m_a_s"), table("m_a_e")
    groups = re.findall(r"{([^}]*)}", entries["eligible_machine"])
    eligible = [{int(number) - 1 for number in _NUMBERS.findall(group)} for group in groups]
    least, most = numbers("min_time"), numbers("max_time")
    capacity, initial = numbers("max_cap"), numbers("initState")
    size, family, release, due = (
        numbers(name) for name in ("size", "attribute", "earliest_start", "latest_end")
    )
    question = Question(
        machines=tuple(
            Machine(
                capacity=(capacity[m],) * families,
                windows=tuple(
                    Span(start, end)
                    for start, end in sorted(zip(starts[m], ends[m], strict=True))
                    if start < end
                ),
                family_at_first=initial[m] - 1,
            )
            for m in range(machines)
        ),
        jobs=tuple(
            Job(
                family=family[j] - 1,
                size=size[j],
                release=release[j],
                due=due[j],
                minutes=tuple(least[j] if m in eligible[j] else None for m in range(machines)),
                most_minutes=most[j],
            )
            for j in range(jobs)
        ),
        setup_minutes=tuple(tuple(row[:families]) for row in table("setup_times")[:families]),
        setup_cost=tuple(tuple(row[:families]) for row in table("setup_costs")[:families]),
        weights=Weights(
            run=one("mult_factor_total_runtime"),
            late=one("mult_factor_finished_toolate"),
            setup=one("mult_factor_total_setupcosts"),
        ),
    )
    return Oven(question, one("upper_bound_integer_objective"))
