"""The phases of a load, in order, and how long each takes (rule S4)."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from scheduler.canner import LEAST_COOL_DOWN_MINUTES, Burner, Canner
from scheduler.canner_kind import CannerKind
from scheduler.errors import BadDay, NoPublishedProcess
from scheduler.heat import (
    plan_cool_down,
    plan_heat_up,
    plan_pressure_up,
    usual_cool_down,
    usual_heat_up,
    usual_pressure_up,
)
from scheduler.interval import Span
from scheduler.jars import JarSize, Pack
from scheduler.printed_process import Process
from scheduler.process import METHOD_OF, STEAM_LIMIT_MINUTES

# Steam flows freely for 10 minutes before the weight goes on or the petcock is closed, in every pressure
# canner. Source: USDA AIB 539 (1994), Recommended Canners; PNW 421.
VENT_MINUTES = 10
# From zero pressure, weight off, to unfastening the lid. Source: the step list adapted from AIB 539 (2015)
# and NCHFP, and a current manual; the 2 minutes of the 1994 text are superseded.
PRESSURE_REST_MINUTES = 10
# From heat off, lid off, to lifting jars out. Source: Kansas State Univ., When to Remove Jars (2020); Univ.
# of Florida EDIS FCS8186. The same is taken for a steam canner: common practice, no source.
BOILING_WATER_REST_MINUTES = 5


class PhaseKind(StrEnum):
    """A phase of a load. HEAT_UP ends with steady steam, in boiling water with a full boil."""

    LOADING = "loading"
    HEAT_UP = "heat_up"
    VENT = "vent"
    PRESSURE_UP = "pressure_up"
    PROCESS = "process"
    COOL_DOWN = "cool_down"
    REST = "rest"
    UNLOADING = "unloading"


PRESSURE_PHASES = (
    PhaseKind.LOADING,
    PhaseKind.HEAT_UP,
    PhaseKind.VENT,
    PhaseKind.PRESSURE_UP,
    PhaseKind.PROCESS,
    PhaseKind.COOL_DOWN,
    PhaseKind.REST,
    PhaseKind.UNLOADING,
)
"""Rule S4 for a pressure canner: in this order, none skipped."""

OPEN_PHASES = (
    PhaseKind.LOADING,
    PhaseKind.HEAT_UP,
    PhaseKind.PROCESS,
    PhaseKind.REST,
    PhaseKind.UNLOADING,
)
"""Rule S4 for boiling water and for steam without pressure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """A load's phases with their whole minutes, each beginning where the one before it ends.

    ``warnings`` say in words what is unusual, for instance a weak burner. Refused: phases that are skipped,
    out of order or empty, a vent or a rest below the published minutes (rule S4), a cool-down below 20
    minutes (rule S5).
    """

    phases: tuple[tuple[PhaseKind, int], ...]
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        kinds = tuple(kind for kind, _ in self.phases)
        if kinds not in (PRESSURE_PHASES, OPEN_PHASES):
            raise BadDay(
                f"A load cannot run as {', '.join(kinds)}.", remedy="Keep every phase, in order (rule S4)."
            )
        least = _least_minutes(kinds == PRESSURE_PHASES)
        for kind, minutes in self.phases:
            if minutes < least.get(kind, 1):
                raise BadDay(
                    f"{minutes} minutes are too few for the phase {kind}.",
                    remedy=f"It takes at least {least.get(kind, 1)} (rules S4 and S5).",
                )

    @property
    def total_minutes(self) -> int:
        """From the first jar in to the last jar out."""
        return sum(minutes for _, minutes in self.phases)

    @property
    def heat_on(self) -> int:
        """Minutes from the start to heat on, which is the start of HEAT_UP. The watch begins (rule S9)."""
        return self.minutes_until(PhaseKind.HEAT_UP)

    @property
    def heat_off(self) -> int:
        """Minutes from the start to heat off, which is the end of PROCESS. The watch ends (rule S9)."""
        return self.minutes_until(PhaseKind.PROCESS) + self.minutes_of(PhaseKind.PROCESS)

    def minutes_until(self, kind: PhaseKind) -> int:
        """Minutes from the start of the load to the start of this phase; ``KeyError`` when it has none."""
        until = 0
        for one, minutes in self.phases:
            if one is kind:
                return until
            until += minutes
        raise KeyError(kind)

    def minutes_of(self, kind: PhaseKind) -> int:
        """How long this phase takes; 0 when the cycle has none."""
        return dict(self.phases).get(kind, 0)

    def starting_at(self, minute: int) -> tuple[tuple[PhaseKind, Span], ...]:
        """Every phase with its span, for a load whose loading begins at ``minute``."""
        spans = []
        for kind, minutes in self.phases:
            spans.append((kind, Span(minute, minute + minutes)))
            minute += minutes
        return tuple(spans)


def cycle_for(
    canner: Canner,
    burner: Burner,
    process: Process,
    jars: JarSize | Collection[JarSize],
    *,
    cool_down_setting_minutes: int,
    loading_minutes: int = 5,
    unloading_minutes: int = 5,
) -> Cycle:
    """The cycle of a load of ``process`` with these jar sizes in it.

    It does not depend on how many jars there are, for a part load is filled up with jars of water (rule S13),
    and with several sizes the slowest decides. ``cool_down_setting_minutes`` is the kitchen's own setting of
    rule S5. Everything is rounded up to whole minutes. Refused: a process printed for another kind of canner,
    a setting below 20 minutes, no jar size.
    """
    sizes = (jars,) if isinstance(jars, JarSize) else tuple(sorted(set(jars)))
    if not sizes:
        raise BadDay("A load without jars has no cycle.", remedy="Name at least one jar size.")
    _check_canner(canner, process)
    if cool_down_setting_minutes < LEAST_COOL_DOWN_MINUTES:
        raise BadDay(
            f"The kitchen's cool-down setting is {cool_down_setting_minutes} minutes.",
            remedy=f"Rule S5 allows no less than {LEAST_COOL_DOWN_MINUTES}.",
        )
    handling = (loading_minutes, unloading_minutes)
    if process.pressure_psi is None:
        return _open_cycle(canner, burner, process.pack, process.process_minutes, sizes, handling)
    return _pressure_cycle(
        canner,
        burner,
        process.pack,
        (process.pressure_psi, process.process_minutes),
        sizes,
        (cool_down_setting_minutes, *handling),
    )


def usual_minutes(
    canner: Canner, burner: Burner, process: Process, jars: Collection[JarSize]
) -> dict[PhaseKind, float]:
    """How long the phases that can be learned take before anything is learned, for these jar sizes.

    Refused like ``cycle_for``. Venting, process, rest and handling are not among them.
    """
    _check_canner(canner, process)
    sizes, minutes = tuple(sorted(set(jars))), process.process_minutes
    usual = {PhaseKind.HEAT_UP: usual_heat_up(canner, burner, sizes, process.pack, minutes)}
    if process.pressure_psi is not None:
        psi = process.pressure_psi
        usual[PhaseKind.PRESSURE_UP] = usual_pressure_up(canner, burner, sizes, psi, minutes)
        usual[PhaseKind.COOL_DOWN] = max(usual_cool_down(canner, jar, psi, minutes) for jar in sizes)
    return usual


def _check_canner(canner: Canner, process: Process) -> None:
    published = (f"{process.method.words}: {process.words}",)
    if process.method is not METHOD_OF[canner.kind]:
        raise NoPublishedProcess(
            f"{canner.name} is a {canner.kind.words}; this process is printed for a {process.method.words}.",
            remedy="Look the process up for this canner.",
            published=published,
        )
    if canner.kind is CannerKind.STEAM and process.process_minutes > STEAM_LIMIT_MINUTES:
        raise NoPublishedProcess(
            f"{canner.name} may run {STEAM_LIMIT_MINUTES} min at most, this process takes "
            f"{process.process_minutes} (rule S7).",
            remedy="Use a boiling-water canner.",
            published=published,
        )


@lru_cache(maxsize=4096)
def _open_cycle(
    canner: Canner,
    burner: Burner,
    pack: Pack,
    process_minutes: int,
    jars: tuple[JarSize, ...],
    handling: tuple[int, int],
) -> Cycle:
    loading, unloading = handling
    heat_up = plan_heat_up(canner, burner, jars, pack, process_minutes)
    minutes = (loading, heat_up.minutes, process_minutes, BOILING_WATER_REST_MINUTES, unloading)
    return Cycle(phases=tuple(zip(OPEN_PHASES, minutes, strict=True)), warnings=_present(heat_up.warning))


@lru_cache(maxsize=4096)
def _pressure_cycle(
    canner: Canner,
    burner: Burner,
    pack: Pack,
    process: tuple[int, int],
    jars: tuple[JarSize, ...],
    settings: tuple[int, int, int],
) -> Cycle:
    (pressure_psi, process_minutes), (cool_down_setting, loading, unloading) = process, settings
    heat_up = plan_heat_up(canner, burner, jars, pack, process_minutes)
    pressure_up = plan_pressure_up(canner, burner, jars, pressure_psi, process_minutes)
    minutes = (
        loading,
        heat_up.minutes,
        VENT_MINUTES,
        pressure_up.minutes,
        process_minutes,
        plan_cool_down(canner, jars, pressure_psi, process_minutes, cool_down_setting),
        PRESSURE_REST_MINUTES,
        unloading,
    )
    return Cycle(
        phases=tuple(zip(PRESSURE_PHASES, minutes, strict=True)),
        warnings=_present(heat_up.warning, pressure_up.warning),
    )


def _least_minutes(under_pressure: bool) -> dict[PhaseKind, int]:
    if under_pressure:
        return {
            PhaseKind.VENT: VENT_MINUTES,
            PhaseKind.COOL_DOWN: LEAST_COOL_DOWN_MINUTES,
            PhaseKind.REST: PRESSURE_REST_MINUTES,
        }
    return {PhaseKind.REST: BOILING_WATER_REST_MINUTES}


def _present(*warnings: str | None) -> tuple[str, ...]:
    return tuple(warning for warning in warnings if warning is not None)
