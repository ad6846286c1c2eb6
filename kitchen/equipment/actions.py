"""Changes to the equipment. Canner time is taken in ``canner_time``."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import TypeVar

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.equipment.bridge import check_burner_fields, check_canner_fields, check_in_service
from kitchen.equipment.models import Burner, Canner, CoolingTable, GaugeCheck, Kettle
from kitchen.equipment.rules import check_gauge_record
from kitchen.equipment.signals import canner_changed, gauge_checked
from kitchen.errors import BadSetting
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_fields, check_may

CANNER_FIELDS = (
    "code",
    "name",
    "kind",
    "burner",
    "inside_diameter_in",
    "inside_depth_in",
    "layers",
    "own_counts",
    "heavy_walled",
    "water_l",
    "empty_mass_kg",
    "own_heat_up_minutes",
    "own_pressure_up_minutes",
    "own_cool_down_minutes",
)

Row = TypeVar("Row", Burner, Kettle, CoolingTable)


@transaction.atomic
def add_burner(*, kitchen: Kitchen, name: str, power_w: int, efficiency: float, actor: User) -> Burner:
    """Add a burner. ``efficiency`` is the share of its power that reaches the water."""
    check_may(actor, kitchen, Deed.CHANGE_EQUIPMENT)
    burner = Burner(kitchen=kitchen, name=name, power_w=power_w, efficiency=efficiency)
    check_burner_fields(burner)
    _add(burner, actor, kitchen, "name", "power_w", "efficiency")
    return burner


@transaction.atomic
def add_kettle(
    *, kitchen: Kitchen, name: str, volume_qt: float, actor: User, burner: Burner | None = None
) -> Kettle:
    """Add a kettle; without a burner it has its own heat."""
    check_may(actor, kitchen, Deed.CHANGE_EQUIPMENT)
    _check_same_kitchen(burner, kitchen)
    kettle = Kettle(kitchen=kitchen, name=name, volume_qt=volume_qt, burner=burner)
    _check_kettle(kettle)
    _add(kettle, actor, kitchen, "name", "volume_qt", "burner")
    return kettle


@transaction.atomic
def add_cooling_table(*, kitchen: Kitchen, name: str, area_sq_in: float, actor: User) -> CoolingTable:
    """Add a table on which jars stand for 12 to 24 hours (rule S12)."""
    check_may(actor, kitchen, Deed.CHANGE_EQUIPMENT)
    table = CoolingTable(kitchen=kitchen, name=name, area_sq_in=area_sq_in)
    _check_table(table)
    _add(table, actor, kitchen, "name", "area_sq_in")
    return table


@transaction.atomic
def change_burner(*, burner: Burner, name: str, power_w: int, efficiency: float, actor: User) -> Burner:
    """Correct what is known of a burner. Plans made before show as out of date."""
    check_may(actor, burner.kitchen, Deed.CHANGE_EQUIPMENT)
    given = {"name": name, "power_w": power_w, "efficiency": efficiency}
    return _change(burner, given, actor, check_burner_fields)


@transaction.atomic
def change_kettle(
    *, kettle: Kettle, name: str, volume_qt: float, actor: User, burner: Burner | None = None
) -> Kettle:
    """Correct what is known of a kettle."""
    check_may(actor, kettle.kitchen, Deed.CHANGE_EQUIPMENT)
    _check_same_kitchen(burner, kettle.kitchen)
    given = {"name": name, "volume_qt": volume_qt, "burner": burner}
    return _change(kettle, given, actor, _check_kettle)


@transaction.atomic
def change_cooling_table(*, table: CoolingTable, name: str, area_sq_in: float, actor: User) -> CoolingTable:
    """Correct what is known of a cooling table."""
    check_may(actor, table.kitchen, Deed.CHANGE_EQUIPMENT)
    return _change(table, {"name": name, "area_sq_in": area_sq_in}, actor, _check_table)


@transaction.atomic
def add_canner(
    *, kitchen: Kitchen, burner: Burner, actor: User, code: str, name: str, kind: str, **measures: object
) -> Canner:
    """Add a canner.

    ``measures`` are further fields of ``CANNER_FIELDS``; what the planner would refuse is refused here.
    """
    check_may(actor, kitchen, Deed.CHANGE_EQUIPMENT)
    _check_same_kitchen(burner, kitchen)
    _check_canner_field_names(measures)
    canner = Canner(kitchen=kitchen, burner=burner, code=code, name=name, kind=kind, **measures)
    check_canner_fields(canner)
    _add(canner, actor, kitchen, *CANNER_FIELDS)
    return canner


@transaction.atomic
def change_canner(*, canner: Canner, changes: dict[str, object], actor: User) -> Canner:
    """Change what is known of a canner, for instance its own measured times."""
    check_may(actor, canner.kitchen, Deed.CHANGE_EQUIPMENT)
    _check_canner_field_names(changes)
    before = snapshot(canner, *changes)
    for name, value in changes.items():
        setattr(canner, name, value)
    _check_same_kitchen(canner.burner, canner.kitchen)
    check_fields(canner)
    check_canner_fields(canner)
    canner.save(update_fields=list(changes))
    record(
        actor=actor,
        kitchen=canner.kitchen,
        action="change_canner",
        subject=canner,
        before=before,
        after=snapshot(canner, *changes),
    )
    _tell_changed(canner, actor)
    return canner


@transaction.atomic
def record_gauge_check(
    *,
    canner: Canner,
    checked_on: date,
    error_psi: Decimal,
    checked_by: str,
    actor: User,
    now: datetime | None = None,
) -> GaugeCheck:
    """Note what a dial gauge showed above the true pressure (rule S8)."""
    check_may(actor, canner.kitchen, Deed.RECORD_GAUGE_CHECK)
    now = now or timezone.now()
    today = now.astimezone(canner.kitchen.zone).date()
    check_gauge_record(canner, checked_on=checked_on, error_psi=error_psi, today=today)
    check = GaugeCheck.objects.create(
        canner=canner,
        checked_on=checked_on,
        error_psi=error_psi,
        checked_by=checked_by,
        recorded_by=actor,
        recorded_at=now,
    )
    record(
        actor=actor,
        kitchen=canner.kitchen,
        action="record_gauge_check",
        subject=check,
        after=snapshot(check, "canner", "checked_on", "error_psi", "checked_by"),
    )
    gauge_checked.send(sender=GaugeCheck, check=check, actor=actor, at=now)
    _tell_changed(canner, actor, now)
    return check


@transaction.atomic
def take_out_of_service(*, canner: Canner, reason: str, actor: User) -> Canner:
    """Withdraw a canner; anybody who stands at it may."""
    check_may(actor, canner.kitchen, Deed.RUN_LOAD)
    if not reason.strip():
        raise BadSetting("No reason is given.", remedy="Say what is wrong with the canner.")
    return _set_service(canner, reason.strip(), actor, "take_out_of_service")


@transaction.atomic
def return_to_service(*, canner: Canner, actor: User) -> Canner:
    """Let a withdrawn canner be used again; an untrusted dial gauge still keeps it out."""
    check_may(actor, canner.kitchen, Deed.CHANGE_EQUIPMENT)
    return _set_service(canner, "", actor, "return_to_service")


def check_usable(*, canner: Canner, on: date) -> None:
    """Refuse a canner that is out of service on this day, by a person or by rule S8."""
    check_in_service(canner, on)


def _add(row: Burner | Kettle | CoolingTable | Canner, actor: User, kitchen: Kitchen, *fields: str) -> None:
    check_fields(row)
    row.save()
    record(
        actor=actor,
        kitchen=kitchen,
        action=f"add_{row._meta.model_name}",
        subject=row,
        after=snapshot(row, *fields),
    )


def _check_kettle(kettle: Kettle) -> None:
    if kettle.volume_qt <= 0:
        raise BadSetting(
            f"A kettle cannot hold {kettle.volume_qt} quarts.", remedy="Give what it may hold while cooking."
        )


def _check_table(table: CoolingTable) -> None:
    if table.area_sq_in <= 0:
        raise BadSetting(
            f"A table cannot have {table.area_sq_in} square inches.",
            remedy="Measure length times width, in inches.",
        )


def _change(row: Row, changes: dict[str, object], actor: User, check: Callable[[Row], None]) -> Row:
    before = snapshot(row, *changes)
    for name, value in changes.items():
        setattr(row, name, value)
    check(row)
    check_fields(row)
    row.save(update_fields=list(changes))
    record(
        actor=actor,
        kitchen=row.kitchen,
        action=f"change_{row._meta.model_name}",
        subject=row,
        before=before,
        after=snapshot(row, *changes),
    )
    return row


def _set_service(canner: Canner, reason: str, actor: User, action: str) -> Canner:
    before = snapshot(canner, "out_of_service_reason")
    canner.out_of_service_reason = reason
    canner.save(update_fields=["out_of_service_reason"])
    record(
        actor=actor,
        kitchen=canner.kitchen,
        action=action,
        subject=canner,
        before=before,
        after=snapshot(canner, "out_of_service_reason"),
    )
    _tell_changed(canner, actor)
    return canner


def _tell_changed(canner: Canner, actor: User, at: datetime | None = None) -> None:
    canner_changed.send(sender=Canner, canner=canner, actor=actor, at=at or timezone.now())


def _check_same_kitchen(burner: Burner | None, kitchen: Kitchen) -> None:
    if burner is not None and burner.kitchen_id != kitchen.pk:
        raise BadSetting(f"{burner} belongs to another kitchen.", remedy=f"Choose a burner of {kitchen}.")


def _check_canner_field_names(fields: dict[str, object]) -> None:
    unknown = sorted(set(fields) - set(CANNER_FIELDS))
    if unknown:
        raise BadSetting(
            f"A canner has no {', '.join(unknown)} to set.",
            remedy=f"Choose from: {', '.join(CANNER_FIELDS)}.",
        )
