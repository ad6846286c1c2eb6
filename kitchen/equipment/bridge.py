"""Rows of equipment as the planner's values, and rule S8 as the planner holds it.

Ids are primary keys as text.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from kitchen.equipment import models
from kitchen.equipment.queries import newest_check
from kitchen.equipment.rules import check_not_withdrawn
from kitchen.errors import BadSetting, OutOfService
from scheduler import canner as vessel
from scheduler.canner_kind import CannerKind
from scheduler.errors import BadDay, CannerOutOfService
from scheduler.interval import Span
from scheduler.jars import JarSize
from scheduler.problem import CoolingTable, Kettle, TableUse

EFFICIENCIES = (
    ("gas", vessel.GAS_EFFICIENCY),
    ("electric", vessel.ELECTRIC_EFFICIENCY),
    ("induction", vessel.INDUCTION_EFFICIENCY),
)
"""The share of a burner's power that reaches the pot, by what heats it."""
GAS_CEILING_W = vessel.GAS_CEILING_W


def jar_sizes() -> list[tuple[str, str]]:
    """Every jar size, with its name."""
    return [(size.value, size.words) for size in JarSize]


def as_burner(row: models.Burner) -> vessel.Burner:
    """The burner as the planner sees it."""
    return vessel.Burner(id=str(row.pk), name=row.name, power_w=row.power_w, efficiency=row.efficiency)


def as_canner(row: models.Canner, *, on: date, service: tuple[Span, ...]) -> vessel.Canner:
    """The canner on a day, with its newest gauge check up to then and the minutes in which it is free."""
    # A canner about to be added has no checks to look for.
    check = newest_check(row, on) if row.pk and row.kind == models.CannerKind.DIAL else None
    return vessel.Canner(
        id=str(row.pk),
        name=row.name,
        kind=CannerKind(row.kind),
        inside_diameter_in=row.inside_diameter_in,
        inside_depth_in=row.inside_depth_in,
        burner_id=str(row.burner_id),
        service=service,
        layers=row.layers,
        own_counts=_by_jar(row.own_counts),
        heavy_walled=row.heavy_walled,
        gauge_checked_on=check.checked_on if check else None,
        gauge_error_psi=float(check.error_psi) if check else 0.0,
        water_l=row.water_l,
        empty_mass_kg=row.empty_mass_kg,
        own_heat_up_minutes=row.own_heat_up_minutes,
        own_pressure_up_minutes=row.own_pressure_up_minutes,
        own_cool_down_minutes=_by_jar(row.own_cool_down_minutes),
    )


def as_kettle(row: models.Kettle) -> Kettle:
    """The kettle as the planner sees it."""
    burner_id = str(row.burner_id) if row.burner_id else None
    return Kettle(id=str(row.pk), name=row.name, volume_qt=row.volume_qt, burner_id=burner_id)


def as_table(row: models.CoolingTable, taken: Iterable[TableUse]) -> CoolingTable:
    """The cooling table with the space that other jars still take."""
    return CoolingTable(id=str(row.pk), name=row.name, area_sq_in=row.area_sq_in, taken=tuple(taken))


def check_canner_fields(row: models.Canner) -> None:
    """Refuse measures, counts or minutes that the planner refuses."""
    unknown = {*row.own_counts, *row.own_cool_down_minutes} - set(JarSize)
    if unknown:
        raise BadSetting(
            f"No jar is called {', '.join(sorted(unknown))}.", remedy=f"Choose from: {', '.join(JarSize)}."
        )
    try:
        as_canner(row, on=date.min, service=())
    except BadDay as error:
        raise BadSetting(error.message, remedy=error.remedy) from error


def check_burner_fields(row: models.Burner) -> None:
    """Refuse a power or an efficiency that the planner refuses."""
    try:
        as_burner(row)
    except BadDay as error:
        raise BadSetting(error.message, remedy=error.remedy) from error


def check_in_service(row: models.Canner, on: date) -> None:
    """Refuse a canner that was withdrawn, or whose dial gauge may not be trusted on this day (rule S8)."""
    check_not_withdrawn(row)
    try:
        vessel.check_gauge(as_canner(row, on=on, service=()), on)
    except CannerOutOfService as error:
        raise OutOfService(error.message, remedy=error.remedy) from error


def can_be_used(row: models.Canner, on: date) -> bool:
    """True when ``check_in_service`` refuses nothing."""
    return not why_out_of_service(row, on)


def why_out_of_service(row: models.Canner, on: date) -> str:
    """The reason in words, or an empty text when the canner may be used."""
    try:
        check_in_service(row, on)
    except OutOfService as error:
        return str(error)
    return ""


def target_reading(row: models.Canner, on: date, pressure_psi: float) -> float:
    """What this canner's gauge must show for the true pressure, by its newest check (rule S8).

    ``OutOfService`` for a canner that cannot hold it.
    """
    try:
        return vessel.target_reading_psi(as_canner(row, on=on, service=()), pressure_psi)
    except CannerOutOfService as error:
        raise OutOfService(error.message, remedy=error.remedy) from error


def _by_jar(minutes_or_counts: dict[str, int]) -> dict[JarSize, int]:
    return {JarSize(name): int(value) for name, value in sorted(minutes_or_counts.items())}
