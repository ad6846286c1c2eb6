"""What leaving means for ways in."""

from __future__ import annotations

from kitchen.entrance.passkeys import forget_passkeys
from kitchen.members.models import Membership, User
from kitchen.members.signals import membership_ended


def follow() -> None:
    """Hear of people who leave."""
    membership_ended.connect(_after_leaving, dispatch_uid="entrance")


def _after_leaving(membership: Membership, actor: User, **_more: object) -> None:
    """Whoever belongs to no kitchen any more keeps no passkey here."""
    if not membership.user.memberships.filter(left_at__isnull=True).exists():
        forget_passkeys(user=membership.user, actor=actor)
