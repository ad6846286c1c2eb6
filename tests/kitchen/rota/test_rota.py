"""Hours that people give, and shifts handed over."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from kitchen.errors import AlreadyDecided, BadHarvestDay, BadMembership, BadTime, NotAllowed
from kitchen.members.models import User
from kitchen.planning.models import DayState, HarvestDay, Load
from kitchen.rota.actions import attend, hand_over, leave, withdraw_attendance
from kitchen.rota.models import Attendance, Shift, Station
from kitchen.rota.queries import attendances_of, rota_of, shifts_of
from scheduler.problem import StationKind
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.sites import Site, make_open_day, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site, helpers=False)


@pytest.fixture
def run(site: Site) -> Run:
    return make_bean_run(site)


def come(site: Site, day: HarvestDay, starts: int, ends: int, actor: User | None = None) -> Attendance:
    """The member's hours."""
    return attend(
        harvest_day=day,
        user=site.member,
        starts_at=site.at(starts),
        ends_at=site.at(ends),
        actor=actor or site.member,
    )


def shift(run: Run, user: User, station: Station, starts: float, minutes: float = 60) -> Shift:
    """A published shift, so many minutes after loading began."""
    return Shift.objects.create(
        harvest_day=run.day,
        user=user,
        station=station,
        load=run.load,
        starts_at=run.at(starts),
        ends_at=run.at(starts + minutes),
    )


def test_the_stations_are_the_planner_s() -> None:
    assert list(Station.values) == [kind.value for kind in StationKind]


def test_hours_with_a_break_between(site: Site, day: HarvestDay) -> None:
    first, second = come(site, day, 8, 12), come(site, day, 12, 15)
    assert list(attendances_of(day)) == [first, second]
    withdraw_attendance(attendance=first, actor=site.member)
    assert list(attendances_of(day)) == [second]


@pytest.mark.parametrize(("starts", "ends"), [(6, 9), (19, 21), (12, 11), (12, 12)])
def test_hours_outside_the_day_or_backwards_are_refused(
    site: Site, day: HarvestDay, starts: int, ends: int
) -> None:
    with pytest.raises(BadTime):
        come(site, day, starts, ends)


def test_hours_that_overlap_are_refused(site: Site, day: HarvestDay) -> None:
    come(site, day, 8, 12)
    with pytest.raises(BadTime, match="overlap"):
        come(site, day, 11, 13)


def test_hours_are_one_s_own_or_given_by_a_lead(site: Site, day: HarvestDay) -> None:
    with pytest.raises(NotAllowed):
        come(site, day, 8, 9, actor=site.other)
    come(site, day, 8, 9, actor=site.lead)


def test_a_day_that_is_over_takes_no_hours(site: Site, day: HarvestDay) -> None:
    day.state = DayState.CLOSED
    with pytest.raises(BadHarvestDay):
        come(site, day, 8, 9)


def test_the_database_refuses_hours_that_end_before_they_start(site: Site, day: HarvestDay) -> None:
    attendance = come(site, day, 8, 9)
    with pytest.raises(IntegrityError), transaction.atomic():
        Attendance.objects.filter(pk=attendance.pk).update(ends_at=attendance.starts_at)


def test_a_shift_is_handed_over_with_a_higher_sequence(run: Run) -> None:
    given = hand_over(
        shift=shift(run, run.site.member, Station.PREP, 0),
        to=run.site.other,
        actor=run.site.member,
        at=run.at(-600),
    )
    assert (given.user, given.sequence, given.changed_at) == (run.site.other, 1, run.at(-600))
    assert list(rota_of(run.day)) == list(shifts_of(run.site.other, run.at(0))) == [given]
    assert not shifts_of(run.site.member, run.at(0)).exists()


def test_a_stranger_s_shift_is_not_given_away(run: Run) -> None:
    with pytest.raises(NotAllowed):
        hand_over(
            shift=shift(run, run.site.member, Station.PREP, 0),
            to=run.site.other,
            actor=run.site.other,
            at=run.at(-60),
        )


def test_nobody_is_at_two_stations_at_once(run: Run) -> None:
    shift(run, run.site.other, Station.FILL, 30)
    with pytest.raises(BadTime, match="another station"):
        hand_over(
            shift=shift(run, run.site.member, Station.PREP, 0),
            to=run.site.other,
            actor=run.site.member,
            at=run.at(-60),
        )


def test_only_a_trained_person_takes_a_canner(run: Run) -> None:
    """Rule S9."""
    watch = shift(run, run.site.lead, Station.CANNER, 0)
    with pytest.raises(BadMembership, match="not trained"):
        hand_over(shift=watch, to=run.site.member, actor=run.site.lead, at=run.at(-60))
    given = hand_over(shift=watch, to=run.site.operator, actor=run.site.lead, at=run.at(-60))
    assert given.user == run.site.operator


def test_nobody_watches_more_canners_than_the_kitchen_allows(run: Run) -> None:
    """Two by default (rule S9)."""
    canners = (run.site.dial, run.site.boiling)
    others = [
        Load.objects.create(
            harvest_day=run.day,
            canner=canner,
            number=2,
            lot_code=f"another-{canner.code}",
            method="boiling_water",
            process_minutes=20,
        )
        for canner in canners
    ]
    for other in others:
        Shift.objects.create(
            harvest_day=run.day,
            user=run.site.operator,
            station=Station.CANNER,
            load=other,
            starts_at=run.at(0),
            ends_at=run.at(60),
        )
    watch = shift(run, run.site.lead, Station.CANNER, 59)
    with pytest.raises(BadTime, match="more than 2 canners"):
        hand_over(shift=watch, to=run.site.operator, actor=run.site.lead, at=run.at(-60))
    Shift.objects.filter(load=others[0]).update(ends_at=run.at(59))
    given = hand_over(shift=watch, to=run.site.operator, actor=run.site.lead, at=run.at(-60))
    assert given.user == run.site.operator


def test_a_stranger_takes_no_shift(run: Run) -> None:
    with pytest.raises(BadMembership, match="does not belong"):
        hand_over(
            shift=shift(run, run.site.member, Station.PREP, 0),
            to=make_site().member,
            actor=run.site.member,
            at=run.at(-60),
        )


def test_a_shift_that_fell_away_is_not_handed_over(run: Run) -> None:
    gone = shift(run, run.site.member, Station.PREP, 0)
    gone.cancelled_at = run.at(0) - timedelta(days=1)
    gone.save()
    with pytest.raises(AlreadyDecided):
        hand_over(shift=gone, to=run.site.other, actor=run.site.member, at=run.at(-60))


def test_who_goes_home_is_there_up_to_the_minute_and_no_longer(site: Site, day: HarvestDay) -> None:
    come(site, day, 8, 12)
    come(site, day, 13, 15)
    left_at = site.at(11) + timedelta(seconds=40)
    leave(harvest_day=day, user=site.member, at=left_at, actor=site.lead)
    hours = [(one.starts_at, one.ends_at) for one in attendances_of(day)]
    assert hours == [(site.at(8), site.at(11))]
    with pytest.raises(AlreadyDecided, match="no hours left"):
        leave(harvest_day=day, user=site.member, at=left_at, actor=site.lead)
    with pytest.raises(NotAllowed):
        leave(harvest_day=day, user=site.lead, at=left_at, actor=site.member)
