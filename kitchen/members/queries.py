"""Reads of kitchens and people."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date

from django.db.models import Q, QuerySet

from kitchen.members.models import (
    CannerTraining,
    ConfirmedProcess,
    FoodTraining,
    Kitchen,
    Membership,
    Role,
    User,
)
from kitchen.prepared import prepared


def membership_of(user: User, kitchen: Kitchen) -> Membership | None:
    """The person's standing membership, or None when they never joined, have left or may not sign in."""
    if not user.is_active:
        return None
    if (known := user.known_memberships.get(kitchen.pk)) is not None:
        return known
    found = Membership.objects.filter(user=user, kitchen=kitchen, left_at__isnull=True).first()
    if found is not None:
        found.user, found.kitchen = user, kitchen  # They are read already.
    return found


def kitchens_of(user: User) -> QuerySet[Kitchen]:
    """The kitchens a person belongs to."""
    return Kitchen.objects.filter(memberships__user=user, memberships__left_at__isnull=True)


def members_of(kitchen: Kitchen) -> QuerySet[Membership]:
    """Who belongs to the kitchen now."""
    return Membership.objects.filter(
        kitchen=kitchen, left_at__isnull=True, user__is_active=True
    ).select_related("user")


def people_by_id(ids: Iterable[int | None]) -> dict[int, User]:
    """These people by their ids; None among the ids stands for nobody."""
    return {one.pk: one for one in _people({one for one in ids if one is not None})}


@prepared
def _people(ids: Collection[int]) -> QuerySet[User]:
    return User.objects.filter(pk__in=ids).order_by()


def roles_in(kitchen: Kitchen) -> dict[int, Role]:
    """Who belongs here now and as what, by user."""
    return {user: Role(role) for user, role in _roles(kitchen)}


@prepared
def _roles(kitchen: Kitchen) -> QuerySet[Membership, tuple[int, str]]:
    return members_of(kitchen).order_by().values_list("user_id", "role")


def leads_of(kitchen: Kitchen) -> QuerySet[Membership]:
    """The kitchen's leads."""
    return members_of(kitchen).filter(role=Role.LEAD)


def trained_on(kitchen: Kitchen, day: date) -> frozenset[int]:
    """The ids of the users whose canner training counts on this day (rule S9)."""
    return frozenset(_ids_trained(kitchen, day))


@prepared
def trainings_of(membership: Membership) -> QuerySet[CannerTraining]:
    """A member's canner trainings, also those that count no more."""
    return CannerTraining.objects.filter(membership=membership)


@prepared
def food_trainings_of(membership: Membership) -> QuerySet[FoodTraining]:
    """A member's trainings in handling food, also those that count no more."""
    return FoodTraining.objects.filter(membership=membership)


def watching_in(kitchen: Kitchen, on: date) -> QuerySet[Membership]:
    """Whose canner training counts on a day, and who is of age for it (rule S9)."""
    trained = _trainings_on(kitchen, on).order_by().values("membership__user_id")
    return members_of(kitchen).filter(user_id__in=trained, under_16=False)


def who_may_watch(kitchen: Kitchen, on: date) -> list[Membership]:
    """The same, read."""
    return _watching(kitchen, on)


def ids_that_may_watch(kitchen: Kitchen, on: date) -> frozenset[int]:
    """The same, as the ids of the users."""
    return frozenset(_ids_watching(kitchen, on))


def _trainings_on(kitchen: Kitchen, day: date) -> QuerySet[CannerTraining]:
    return CannerTraining.objects.filter(
        Q(expires_on__isnull=True) | Q(expires_on__gte=day),
        membership__kitchen=kitchen,
        membership__left_at__isnull=True,
        trained_on__lte=day,
    )


def confirmed_process_keys(kitchen: Kitchen) -> frozenset[str]:
    """The published rows of confidence B that a lead has confirmed (rule S1)."""
    return frozenset(_confirmed(kitchen))


@prepared
def _confirmed(kitchen: Kitchen) -> QuerySet[ConfirmedProcess, str]:
    return ConfirmedProcess.objects.filter(kitchen=kitchen).values_list("process_key", flat=True)


@prepared
def _ids_trained(kitchen: Kitchen, day: date) -> QuerySet[CannerTraining, int]:
    return _trainings_on(kitchen, day).values_list("membership__user_id", flat=True)


@prepared
def _watching(kitchen: Kitchen, on: date) -> QuerySet[Membership]:
    return watching_in(kitchen, on)


@prepared
def _ids_watching(kitchen: Kitchen, on: date) -> QuerySet[Membership, int]:
    return watching_in(kitchen, on).order_by().values_list("user_id", flat=True)
