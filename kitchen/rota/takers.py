"""What must be known of people to say which shifts of a day they may take, read at once for all shifts and people."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from kitchen.helping.queries import Said, said_in
from kitchen.members.models import Kitchen, Membership, User
from kitchen.members.queries import ids_that_may_watch, members_of
from kitchen.planning.models import HarvestDay
from kitchen.prepared import prepared
from kitchen.rota.models import Shift
from kitchen.rota.queries import NEAR, attendances_of, work_between


@dataclass(frozen=True, slots=True)
class Company:
    """Somebody with whom a person comes and goes, and that one's hours of the day."""

    user: User
    hours: tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Taker:
    """A person as the kitchen of a day knows them.

    ``membership`` is None for whoever does not belong to it. ``may_watch``: trained on the day and of age for a canner
    (rule S9). ``work`` are the person's standing shifts, in any kitchen, as far as they may matter. ``company`` is with
    whom they come that day, and when that person is there; None when they come alone.
    """

    user: User
    membership: Membership | None
    may_watch: bool
    said: Said
    work: tuple[Shift, ...]
    company: Company | None

    def near(self, shift: Shift) -> list[Shift]:
        """The person's other standing shifts from two days before this one to two days after it."""
        first, last = shift.starts_at - NEAR, shift.ends_at + NEAR
        return [
            one for one in self.work if one.pk != shift.pk and one.starts_at < last and one.ends_at > first
        ]


def takers_of(users: Iterable[User], shifts: Sequence[Shift]) -> Mapping[int, Taker]:
    """By user id what is known of these people, for these shifts of one harvest day; at least one shift."""
    people = {user.pk: user for user in users}
    day = shifts[0].harvest_day
    memberships = {one.user_id: one for one in _memberships(day.kitchen, people)}
    watching = ids_that_may_watch(day.kitchen, day.date)
    said = said_in(day.kitchen, people)
    company = _company_of(day, said)
    work: defaultdict[int | None, list[Shift]] = defaultdict(list)
    first, last = min(one.starts_at for one in shifts), max(one.ends_at for one in shifts)
    for shift in work_between(people, first - NEAR, last + NEAR):
        work[shift.user_id].append(shift)
    return {
        pk: Taker(
            user=user,
            membership=memberships.get(pk),
            may_watch=pk in watching,
            said=said.get(pk, Said()),
            work=tuple(work[pk]),
            company=company.get(said[pk].comes_with) if pk in said else None,
        )
        for pk, user in people.items()
    }


@prepared
def _memberships(kitchen: Kitchen, users: Collection[int]) -> QuerySet[Membership]:
    return members_of(kitchen).filter(user__pk__in=users)


def _company_of(day: HarvestDay, said: Mapping[int, Said]) -> dict[int | None, Company]:
    """By user id those with whom others come. Whoever is not there that day is nobody's company, as in planning."""
    named = {one.comes_with for one in said.values() if one.comes_with is not None}
    if not named:
        return {}
    hours: defaultdict[User, list[tuple[datetime, datetime]]] = defaultdict(list)
    for one in attendances_of(day).filter(user__in=named):
        hours[one.user].append((one.starts_at, one.ends_at))
    return {user.pk: Company(user, tuple(spans)) for user, spans in hours.items()}


def taker_of(user: User, shift: Shift) -> Taker:
    """What is known of one person, for one shift."""
    return takers_of([user], [shift])[user.pk]
