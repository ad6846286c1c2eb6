"""When a canner may be used and changed."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from kitchen.equipment.models import Canner, CannerKind
from kitchen.errors import BadSetting, BadTime, OutOfService

# A guard against slips of typing: no dial gauge in use is off by more.
MOST_RECORDED_ERROR_PSI = Decimal(15)


def check_not_withdrawn(canner: Canner) -> None:
    """Refuse a canner that somebody took out of service."""
    if canner.out_of_service_reason:
        raise OutOfService(
            f"{canner} is out of service: {canner.out_of_service_reason.removesuffix('.')}.",
            remedy="Choose another canner, or ask a lead to return it to service.",
        )


def check_span(starts_at: datetime, ends_at: datetime) -> None:
    """Refuse a span without a time zone, or one that ends before it starts."""
    if starts_at.tzinfo is None or ends_at.tzinfo is None:
        raise BadTime("A time without a time zone cannot be booked.", remedy="Give aware times.")
    if ends_at <= starts_at:
        raise BadTime(
            f"The time would end at {ends_at:%Y-%m-%d %H:%M}, "
            f"not after its start at {starts_at:%Y-%m-%d %H:%M}.",
            remedy="Set the end after the start.",
        )


def check_gauge_record(canner: Canner, *, checked_on: date, error_psi: Decimal, today: date) -> None:
    """Refuse a check of a gauge that has no dial, a check in the future, or an error beyond belief."""
    if canner.kind != CannerKind.DIAL:
        raise BadSetting(
            f"{canner} has no dial gauge.", remedy="Record checks for dial gauges only; a weight needs none."
        )
    if checked_on > today:
        raise BadTime(
            f"The check is dated {checked_on}, after today.", remedy="Give the day on which it was made."
        )
    if abs(error_psi) > MOST_RECORDED_ERROR_PSI:
        raise BadSetting(
            f"A dial gauge off by {error_psi} lb is beyond belief.",
            remedy="Give the reading less the true pressure, in lb, for instance 1.5 or -0.5.",
        )
