"""What a member may ask of a rota."""

from __future__ import annotations

from collections.abc import Set

from kitchen.errors import BadWishes
from kitchen.helping.models import LEAST_DAY_MINUTES, MOST_DAY_MINUTES, Station
from kitchen.members.models import Membership


def check_stations(likes: Set[Station], cannot: Set[Station]) -> None:
    """Refuse a station that is both liked and impossible, and a person who can work nowhere."""
    both = sorted(station.label for station in likes & cannot)
    if both:
        raise BadWishes(
            f"{both[0]} cannot be liked and impossible at once.",
            remedy="Choose one of the two for each station.",
        )
    if cannot >= set(Station):
        raise BadWishes(
            "With no station left, the rota has no work to give.",
            remedy="Leave at least one station open, or give no hours.",
        )


def check_most_minutes(minutes: int | None) -> None:
    """Refuse a day's work that is none, or longer than any kitchen's longest shift."""
    if minutes is not None and not LEAST_DAY_MINUTES <= minutes <= MOST_DAY_MINUTES:
        raise BadWishes(
            f"{minutes / 60:g} hours are no limit for a day.",
            remedy=f"Give from {LEAST_DAY_MINUTES / 60:g} to {MOST_DAY_MINUTES // 60} hours, or leave it open.",
        )


def check_company(membership: Membership, other: Membership | None) -> None:
    """Refuse to come with oneself, or with somebody who does not belong to this kitchen."""
    if other is None:
        return
    if other.pk == membership.pk:
        raise BadWishes("Nobody comes with themselves.", remedy="Choose another member, or nobody.")
    if other.kitchen_id != membership.kitchen_id or other.left_at is not None:
        raise BadWishes(
            f"{other.user} does not belong to this kitchen.",
            remedy="Choose a member of the kitchen, or nobody.",
        )


def check_learning(membership: Membership, learning: bool) -> None:
    """Nobody under 16 stands at a canner, not even to learn (common practice, no source)."""
    if learning and membership.under_16:
        raise BadWishes(
            f"{membership.user} is under 16 and cannot learn to run a canner yet.",
            remedy="Choose other stations (common practice, no source).",
        )
