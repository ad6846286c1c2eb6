"""Canners: in service, read right, filled right, one load at once. Rules S8, S13, "canner" and "burner"."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from scheduler.canner import Canner, check_gauge, target_reading_psi
from scheduler.errors import CannerOutOfService, SchedulerError
from scheduler.jars import JarSize
from scheduler.plan import Load, TaskKind
from scheduler.rack import capacity, check_size, fits, is_small_load, water_jars
from scheduler.rules.case import Case, Violation
from scheduler.rules.usage import clashes


def check_gauges(case: Case) -> Iterator[Violation]:
    """S8: the gauge was checked within the year, and the target reading is corrected, never below the process."""
    for load, canner in case.on_canners():
        try:
            check_gauge(canner, case.day.date, until=case.day.last_date)
            wanted = _wanted_reading(case, load, canner)
        except CannerOutOfService as refusal:
            yield Violation(rule="S8", message=f"Load {load.id}: {refusal.message}", load_id=load.id)
            continue
        if load.target_reading_psi != wanted:
            yield Violation(
                rule="S8",
                message=f"Load {load.id}: {canner.name} must be run at {_reading(wanted)}; the plan says "
                f"{_reading(load.target_reading_psi)}.",
                load_id=load.id,
            )


def check_fit(case: Case) -> Iterator[Violation]:
    """S13: the jars stand in the canner, water jars fill it up, and a small load says so."""
    for load, canner in case.on_canners():
        jars = case.jars(load)
        minutes = case.full_minutes(load)
        if not _stands(canner, jars, minutes):
            asked = " and ".join(f"{count} {jar.words}" for jar, count in sorted(jars.items()))
            yield Violation(
                rule="S13",
                message=f"Load {load.id}: {asked} jars do not fit into {canner.name}.",
                load_id=load.id,
            )
            continue
        wanted = water_jars(canner, jars, process_minutes=minutes)
        if load.water_jars != wanted:
            yield Violation(
                rule="S13",
                message=f"Load {load.id}: {canner.name} is filled up with {wanted} jars of water; the plan says "
                f"{load.water_jars}.",
                load_id=load.id,
            )
        named = (load.id, canner.name)
        if is_small_load(canner, jars) and not any(
            name in warning for warning in case.plan.warnings for name in named
        ):
            yield Violation(
                rule="S13",
                message=f"Load {load.id} has fewer than 2 quarts or 4 pints in {canner.name}, and no warning names it.",
                load_id=load.id,
            )


def check_canners(case: Case) -> Iterator[Violation]:
    """ "canner": it exists, is large enough, in service, holds one load at once, and its loads are numbered."""
    for load in case.plan.loads:
        if load.canner_id not in case.canners:
            yield _wrong(load, f"there is no canner {load.canner_id!r}.")
    for canner in case.day.canners:
        loads = case.on_canner(canner.id)
        stretches = [(load.phases[0].start, load.jars_out, load) for load in loads]
        for one, other, minute in clashes(stretches):
            yield _wrong(other, f"{canner.name} still holds load {one.id} at {case.clock(minute)}.")
        for number, load in zip(_numbers(case, canner, loads), loads, strict=True):
            if load.number != number:
                yield _wrong(load, f"it is load {number} of {canner.name}; the plan says {load.number}.")
        try:
            check_size(canner)
        except SchedulerError as refusal:
            for load in loads:
                yield _wrong(load, refusal.message)


def _numbers(case: Case, canner: Canner, loads: list[Load]) -> Iterator[int]:
    """How the loads of a canner are numbered: as they come, past those that have begun or were lost with theirs."""
    lost = () if case.day.floor is None else case.day.floor.lost
    taken = {one.number for one in lost if one.canner_id == canner.id}
    taken |= {case.begun[load.id].load.number for load in loads if load.id in case.begun}
    number = 0
    for load in loads:
        if load.id in case.begun:
            yield case.begun[load.id].load.number
            continue
        number = next(one for one in count(number + 1) if one not in taken)
        yield number


def check_burners(case: Case) -> Iterator[Violation]:
    """ "burner": one pot at once, from the fill to the last jar out, or from the kettle's heat to the fill's end."""
    for burner in case.day.burners:
        for one, other, minute in clashes(_on_burner(case, burner.id)):
            yield Violation(
                rule="burner", message=f"{burner.name} has {one} and {other} on it at {case.clock(minute)}."
            )


def _on_burner(case: Case, burner_id: str) -> Iterator[tuple[int, int, str]]:
    for load, canner in case.on_canners():
        taken = case.taken(load)
        if canner.burner_id == burner_id and taken is not None:
            yield max(taken[0], case.since), taken[1], f"{canner.name} (load {load.id})"
    for load in case.plan.loads:
        fill = case.fill(load)
        for task in case.of_load(load, TaskKind.KETTLE):
            kettle = case.kettles.get(task.kettle_id or "")
            if kettle is not None and kettle.burner_id == burner_id:
                end = task.end if fill is None else max(task.end, fill.end)
                yield max(task.start, case.since), end, f"{kettle.name} (load {load.id})"


def _wrong(load: Load, problem: str) -> Violation:
    return Violation(rule="canner", message=f"Load {load.id}: {problem}", load_id=load.id)


def _wanted_reading(case: Case, load: Load, canner: Canner) -> float | None:
    if not canner.kind.is_pressure:
        return None
    printed = [content.process.pressure_psi for content in case.contents(load) if content.process]
    pressures = [psi for psi in printed if psi is not None]
    # Without a printed pressure there is nothing to compare with; rules S1 and S3 say so.
    return target_reading_psi(canner, max(pressures)) if pressures else load.target_reading_psi


def _reading(psi: float | None) -> str:
    return "no reading" if psi is None else f"{psi:g} lb"


def _stands(canner: Canner, jars: dict[JarSize, int], minutes: int | None) -> bool:
    # Counts beyond the canner's own are refused at once: placing several sizes takes long.
    alone = all(count <= capacity(canner, jar, process_minutes=minutes) for jar, count in jars.items())
    return alone and fits(canner, jars, process_minutes=minutes)
