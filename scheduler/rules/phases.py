"""The canner's cycle: rules S4, S5, S6 and, for whatever broke one of them, S16."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, pairwise

from scheduler.canner import LEAST_COOL_DOWN_MINUTES, Canner, least_cool_down_minutes
from scheduler.cycle import (
    BOILING_WATER_REST_MINUTES,
    OPEN_PHASES,
    PRESSURE_PHASES,
    PRESSURE_REST_MINUTES,
    VENT_MINUTES,
    PhaseKind,
    cycle_for,
)
from scheduler.errors import SchedulerError
from scheduler.plan import Load, Phase
from scheduler.rules.case import Case, Violation, minutes_of

_COOLING = PhaseKind.COOL_DOWN


def check_phases(case: Case) -> Iterator[Violation]:
    """S4: every phase, in order, each where the one before it ends, and none too short; filling ends before."""
    for load, canner in case.on_canners():
        filling = () if load.id in case.begun else _filling(case, load)
        for problem in chain(_order(case, load, canner), _durations(case, load, canner), filling):
            yield Violation(rule="S4", message=f"Load {load.id}: {problem}", load_id=load.id)


def check_cool_down(case: Case) -> Iterator[Violation]:
    """S5: the cool-down is never shortened."""
    for load, canner in case.on_canners():
        phase = load.phase(_COOLING)
        if phase is None or _is_excused(case, load, phase):
            continue  # In a pressure canner rule S4 misses it.
        known = _floors if case.is_recorded(load, phase) else _least_minutes
        least = known(case, load, canner).get(_COOLING, LEAST_COOL_DOWN_MINUTES)
        if minutes_of(phase) < least:
            yield Violation(
                rule="S5",
                message=f"Load {load.id}: {canner.name} cools down {minutes_of(phase)} min from "
                f"{case.clock(phase.start)}; it needs at least {least}.",
                load_id=load.id,
            )


def check_interruptions(case: Case) -> Iterator[Violation]:
    """S6: after pressure or boil was lost the clock restarts for the full time, from when it was reached again."""
    for load in case.plan.loads:
        phase, full = load.phase(PhaseKind.PROCESS), case.full_minutes(load)
        if phase is None or full is None or _is_excused(case, load, phase):
            continue
        begun = case.begun.get(load.id)
        if begun is not None and begun.clock_from is not None and phase.end - begun.clock_from < full:
            yield Violation(
                rule="S6",
                message=f"Load {load.id}: the process clock began anew at {case.clock(begun.clock_from)}; only "
                f"{phase.end - begun.clock_from} of the full {full} min follow.",
                load_id=load.id,
            )
        lost = [minute for minute in load.interruptions if phase.start <= minute <= phase.end]
        if lost and phase.end - max(lost) < full:
            yield Violation(
                rule="S6",
                message=f"Load {load.id} lost pressure or boil at {case.clock(max(lost))}; only "
                f"{phase.end - max(lost)} of the full {full} min follow.",
                load_id=load.id,
            )


def check_deviations(case: Case) -> Iterator[Violation]:
    """S16: the jars of a load that broke a rule are on hold, and a hold says why."""
    broken: dict[str | None, str] = {}
    for violation in chain(check_phases(case), check_cool_down(case), check_interruptions(case)):
        broken.setdefault(violation.load_id, violation.rule)
    for load in case.plan.loads:
        if not load.on_hold and (load.deviation is not None or load.id in broken):
            why = load.deviation or f"rule {broken.get(load.id, 'not named')}"
            yield Violation(
                rule="S16",
                message=f"Load {load.id} broke a rule ({why}); its jars must be on hold until the lead decides.",
                load_id=load.id,
            )
        elif load.on_hold and not load.deviation:
            yield Violation(
                rule="S16",
                message=f"Load {load.id} is on hold without the rule it broke.",
                load_id=load.id,
            )


def _order(case: Case, load: Load, canner: Canner) -> Iterator[str]:
    wanted = PRESSURE_PHASES if canner.kind.is_pressure else OPEN_PHASES
    kinds = tuple(phase.kind for phase in load.phases)
    if kinds != wanted:
        yield f"its phases must be {', '.join(wanted)}; they are {', '.join(kinds) or 'none'}."
    for before, after in pairwise(load.phases):
        if before.end != after.start:
            yield (
                f"{before.kind} ends at {case.clock(before.end)} but {after.kind} begins at "
                f"{case.clock(after.start)}."
            )


def _durations(case: Case, load: Load, canner: Canner) -> Iterator[str]:
    expected, recorded = _least_minutes(case, load, canner), _floors(case, load, canner)
    for phase in load.phases:
        if _is_excused(case, load, phase):
            continue
        # A fact may be quicker than what was expected, never than what is published.
        least = recorded if case.is_recorded(load, phase) else expected
        if phase.kind is not _COOLING and minutes_of(phase) < least.get(phase.kind, 1):
            yield (
                f"{phase.kind} lasts {minutes_of(phase)} min from {case.clock(phase.start)}; it needs at least "
                f"{least.get(phase.kind, 1)}."
            )


def _is_excused(case: Case, load: Load, phase: Phase) -> bool:
    """True for what was recorded of a load whose jars are on hold, or were until a lead decided (rule S16)."""
    return case.is_recorded(load, phase) and case.begun[load.id].is_closed_case


def _filling(case: Case, load: Load) -> Iterator[str]:
    fill = case.fill(load)
    if fill is not None and load.phases and fill.end != load.phases[0].start:
        yield (
            f"loading begins at {case.clock(load.phases[0].start)}; the jars are filled at {case.clock(fill.end)}."
        )


def _least_minutes(case: Case, load: Load, canner: Canner) -> dict[PhaseKind, int]:
    """The least of each phase: the published floors, and above them what this canner and these jars need."""
    least = _floors(case, load, canner)
    policy = case.day.policy
    for content in case.contents(load):
        if content.process is None or content.batch is None:
            continue
        try:
            cycle = cycle_for(
                canner,
                case.burners[canner.burner_id],
                content.process,
                tuple(case.jars(load)) or content.batch.jar,
                cool_down_setting_minutes=policy.cool_down_minutes,
                loading_minutes=policy.loading_minutes,
                unloading_minutes=policy.unloading_minutes,
            )
        except SchedulerError:
            continue  # Not a process for this canner: rules S1 and S7 say so.
        for kind, minutes in cycle.phases:
            least[kind] = max(minutes, least.get(kind, minutes))
    if _COOLING in least:
        least[_COOLING] = max(least[_COOLING], _cool_down_setting(case, load, canner))
    return least


def _cool_down_setting(case: Case, load: Load, canner: Canner) -> int:
    """What rule S5 leaves to the kitchen: its setting, unless it entered a time of its own, whatever was learned."""
    measured = all(jar in canner.own_cool_down_minutes for jar in case.jars(load))
    return 0 if canner.heavy_walled or measured else case.day.policy.cool_down_minutes


def _floors(case: Case, load: Load, canner: Canner) -> dict[PhaseKind, int]:
    floors = {PhaseKind.PROCESS: case.full_minutes(load) or 1}
    if not canner.kind.is_pressure:
        return floors | {PhaseKind.REST: BOILING_WATER_REST_MINUTES}
    cool_down = max(
        (least_cool_down_minutes(canner, jar) for jar in case.jars(load)), default=LEAST_COOL_DOWN_MINUTES
    )
    return floors | {
        PhaseKind.VENT: VENT_MINUTES,
        PhaseKind.REST: PRESSURE_REST_MINUTES,
        _COOLING: cool_down,
    }
