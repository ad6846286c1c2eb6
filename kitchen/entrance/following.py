"""What leaving means for ways in, and who is written to when a password is changed."""

from __future__ import annotations

from datetime import datetime

from kitchen.entrance.models import Change
from kitchen.entrance.passkeys import forget_passkeys
from kitchen.entrance.telling import tell
from kitchen.members.models import Membership, User
from kitchen.members.signals import membership_ended, password_changed


def follow() -> None:
    """Hear of people who leave, and of other passwords."""
    membership_ended.connect(_after_leaving, dispatch_uid="entrance")
    password_changed.connect(_after_password, dispatch_uid="entrance")


def _after_leaving(membership: Membership, actor: User, **_more: object) -> None:
    """Whoever belongs to no kitchen any more keeps no passkey here."""
    if not membership.user.memberships.filter(left_at__isnull=True).exists():
        forget_passkeys(user=membership.user, actor=actor)


def _after_password(user: User, at: datetime, **_more: object) -> None:
    """Whoever it belongs to hears of it, whoever changed it."""
    tell(user=user, change=Change.PASSWORD, at=at)
