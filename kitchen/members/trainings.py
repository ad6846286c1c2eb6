"""What members were trained for, and until when it counts."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from kitchen.audit.actions import record, snapshot
from kitchen.errors import BadMembership
from kitchen.members.models import (
    CannerTraining,
    FoodTraining,
    Membership,
    User,
)
from kitchen.members.rules import Deed, check_may


@transaction.atomic
def record_training(
    *, membership: Membership, trained_on: date, trained_by: str, actor: User, expires_on: date | None = None
) -> CannerTraining:
    """Note that a member was trained to run a canner (rule S9)."""
    check_may(actor, membership.kitchen, Deed.RECORD_TRAINING)
    if membership.under_16:
        raise BadMembership(
            f"{membership.user} is under 16.",
            remedy="Give the canner station to an older member (common practice, no source).",
        )
    _check_expiry(trained_on, expires_on)
    training = CannerTraining.objects.create(
        membership=membership, trained_on=trained_on, expires_on=expires_on, trained_by=trained_by
    )
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="record_training",
        subject=training,
        after=snapshot(training, "membership", "trained_on", "expires_on", "trained_by"),
    )
    return training


@transaction.atomic
def record_food_training(
    *, membership: Membership, trained_on: date, trained_by: str, actor: User, expires_on: date | None = None
) -> FoodTraining:
    """Note that a member was taught to handle food. Anybody may be, whatever their age."""
    check_may(actor, membership.kitchen, Deed.RECORD_TRAINING)
    _check_expiry(trained_on, expires_on)
    training = FoodTraining.objects.create(
        membership=membership, trained_on=trained_on, expires_on=expires_on, trained_by=trained_by
    )
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="record_food_training",
        subject=training,
        after=snapshot(training, "membership", "trained_on", "expires_on", "trained_by"),
    )
    return training


def _check_expiry(trained_on: date, expires_on: date | None) -> None:
    if expires_on is not None and expires_on <= trained_on:
        raise BadMembership(
            "The training would expire before it was given.", remedy="Set a later day of expiry, or none."
        )
