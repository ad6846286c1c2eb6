"""What people asked of the rota, and what they did before, in the planner's question."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from kitchen.helping.actions import set_wishes
from kitchen.helping.models import Station, Wishes
from kitchen.members.actions import end_membership
from kitchen.members.models import Membership, User
from kitchen.planning.bridge import day_digest, day_of
from kitchen.planning.models import HarvestDay, LoadState
from kitchen.planning.queries import carried_minutes
from kitchen.rota.actions import withdraw_attendance
from kitchen.rota.models import Shift
from scheduler.problem import Person, StationKind
from tests.factories.sites import DAY, Site, declare, make_open_day, make_site, publish

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site)


def belongs(site: Site, user: User) -> Membership:
    return user.memberships.get(kitchen=site.kitchen)


def wish(
    site: Site,
    user: User,
    *,
    likes: frozenset[Station] = frozenset(),
    cannot: frozenset[Station] = frozenset(),
    most_minutes: int | None = None,
    comes_with: User | None = None,
    learning: bool = False,
) -> Wishes:
    """What a person says of themselves."""
    return set_wishes(
        membership=belongs(site, user),
        likes=likes,
        cannot=cannot,
        most_minutes=most_minutes,
        comes_with=None if comes_with is None else belongs(site, comes_with),
        learning=learning,
        actor=user,
    )


def asked_of(day: HarvestDay, user: User) -> Person:
    return next(person for person in day_of(day).people if person.id == str(user.pk))


def work(site: Site, on: date, user: User, starts: int, ends: int, *, cancelled: bool = False) -> Shift:
    """A shift of whole hours on another day."""
    day, _ = HarvestDay.objects.get_or_create(
        kitchen=site.kitchen,
        date=on,
        defaults={"opens_at": site.at(7, day=on), "closes_at": site.at(20, day=on)},
    )
    return Shift.objects.create(
        harvest_day=day,
        user=user,
        station="prep",
        starts_at=site.at(starts, day=on),
        ends_at=site.at(ends, day=on),
        cancelled_at=site.at(6, day=on) if cancelled else None,
    )


def test_what_was_said_reaches_the_planner(site: Site, day: HarvestDay) -> None:
    wish(
        site,
        site.member,
        likes=frozenset({Station.FILL}),
        cannot=frozenset({Station.KETTLE, Station.COOLING}),
        most_minutes=240,
        comes_with=site.other,
        learning=True,
    )
    person = asked_of(day, site.member)
    assert person.likes == {StationKind.FILL}
    assert person.cannot == {StationKind.KETTLE, StationKind.COOLING}
    assert (person.most_minutes, person.comes_with, person.learning) == (240, str(site.other.pk), True)


def test_every_station_is_one_of_the_planner_s() -> None:
    assert {station.value for station in Station} == {kind.value for kind in StationKind}


def test_a_day_of_people_who_said_nothing_keeps_its_name(site: Site, day: HarvestDay) -> None:
    before = day_digest(day_of(day))
    wish(site, site.member)
    assert day_digest(day_of(day)) == before
    wish(site, site.member, learning=True)
    assert day_digest(day_of(day)) != before


def test_whoever_is_not_there_comes_with_nobody(site: Site, day: HarvestDay) -> None:
    wish(site, site.member, comes_with=site.other)
    withdraw_attendance(attendance=day.attendances.get(user=site.other), actor=site.other)
    assert asked_of(day, site.member).comes_with is None


def test_whoever_has_left_comes_with_nobody(site: Site, day: HarvestDay) -> None:
    wish(site, site.member, comes_with=site.other)
    end_membership(membership=belongs(site, site.other), actor=site.lead)
    assert asked_of(day, site.member).comes_with is None


def test_whoever_is_trained_or_too_young_is_no_learner(site: Site, day: HarvestDay) -> None:
    for user in (site.lead, site.member):
        wish(site, user, learning=True)
    Membership.objects.filter(user=site.member).update(under_16=True)
    assert not asked_of(day, site.lead).learning
    assert not asked_of(day, site.member).learning


def test_wishes_in_another_kitchen_do_not_count(site: Site, day: HarvestDay) -> None:
    other = make_site()
    Membership.objects.create(kitchen=other.kitchen, user=site.member)
    wish(other, site.member, most_minutes=60)
    assert asked_of(day, site.member).most_minutes is None


def test_what_was_done_more_than_others_is_carried(site: Site, day: HarvestDay) -> None:
    """Six hours, three and none: the mean of those who helped is four and a half."""
    before = DAY - timedelta(days=7)
    work(site, before, site.member, 8, 12)
    work(site, before - timedelta(days=7), site.member, 8, 10)
    work(site, before, site.other, 9, 12)
    assert carried_minutes(day) == {site.member.pk: 90}
    assert asked_of(day, site.member).carried_minutes == 90
    assert asked_of(day, site.other).carried_minutes == 0


def test_two_canners_watched_at_once_are_one_time(site: Site, day: HarvestDay) -> None:
    before = DAY - timedelta(days=7)
    for starts, ends in ((8, 12), (9, 11), (11, 13)):
        work(site, before, site.member, starts, ends)
    work(site, before, site.other, 8, 9)
    assert carried_minutes(day) == {site.member.pk: 120}


def test_a_shift_that_nobody_took_is_nobody_s_work(site: Site, day: HarvestDay) -> None:
    before = DAY - timedelta(days=7)
    work(site, before, site.member, 8, 12)
    work(site, before, site.other, 8, 9)
    work(site, before, site.lead, 8, 9)
    Shift.objects.filter(user=site.lead).update(user=None)
    assert carried_minutes(day) == {site.member.pk: 90}


def test_only_standing_shifts_of_the_year_before_are_carried(site: Site, day: HarvestDay) -> None:
    elsewhere = make_site()
    work(elsewhere, DAY - timedelta(days=7), site.member, 8, 12)
    work(site, DAY - timedelta(days=366), site.member, 8, 12)
    work(site, DAY, site.member, 8, 12)
    work(site, DAY + timedelta(days=7), site.member, 8, 12)
    work(site, DAY - timedelta(days=7), site.member, 8, 12, cancelled=True)
    assert carried_minutes(day) == {}
    work(site, DAY - timedelta(days=7), site.other, 9, 10)
    assert carried_minutes(day) == {}
    work(site, DAY - timedelta(days=365), site.lead, 8, 11)
    assert carried_minutes(day) == {site.lead.pk: 60}


def test_a_day_under_way_keeps_what_its_people_carried(site: Site, day: HarvestDay) -> None:
    """Its shifts were shared out by that; a swap on a day before must not put its plan out of date."""
    before = DAY - timedelta(days=7)
    work(site, before, site.member, 8, 12)
    work(site, before, site.other, 8, 10)
    declare(site, day)
    publish(site, day)
    published = day_of(HarvestDay.objects.get(pk=day.pk))
    work(site, before, site.lead, 8, 14)

    def carried() -> tuple[int, int]:
        now = HarvestDay.objects.get(pk=day.pk)
        return asked_of(now, site.member).carried_minutes, asked_of(now, site.lead).carried_minutes

    assert carried() == (0, 120)
    day.loads.update(state=LoadState.RUNNING)
    assert carried() == (60, 0)
    assert day_of(HarvestDay.objects.get(pk=day.pk)).people == published.people
