"""Shifts given back, opened, asked for and taken: who may, who is told, and what each calendar shows."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from icalendar import Calendar, Event

from kitchen.audit.queries import about
from kitchen.calendars.bridge import day_ics, feed_ics
from kitchen.calendars.models import Feed, FeedKind
from kitchen.errors import (
    AlreadyDecided,
    BadHarvestDay,
    BadMembership,
    BadTime,
    NotAllowed,
    ShiftTaken,
    TooMuchWork,
)
from kitchen.helping.actions import set_wishes
from kitchen.helping.models import Station as WishedStation
from kitchen.members.models import CannerTraining, Membership, User
from kitchen.planning.actions import close_harvest_day
from kitchen.planning.models import DayState, HarvestDay
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.rota.actions import (
    give_back,
    hand_over,
    leave,
    take,
    want_helpers,
    want_no_more,
    withdraw_attendance,
)
from kitchen.rota.models import Attendance, Shift, Station
from kitchen.rota.queries import shifts_wanted
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.shifts import make_shift
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def told(user: User) -> list[str]:
    """The titles of the news that waits for a person."""
    news = Reminder.objects.filter(kind=Kind.ROTA, recipient=user, state=State.DUE)
    return [one.news["title"] for one in news.order_by("due_at", "pk")]


def entries(run: Run, user: User, minutes: float = -60) -> dict[str, Event]:
    """What another program reads in a person's feed, by uid."""
    feed = Feed(user=user, kitchen=run.site.kitchen, kind=FeedKind.MEMBER)
    calendar = Calendar.from_ical(feed_ics(feed, run.at(minutes)))
    return {str(event["UID"]): event for event in calendar.events if "shift" in str(event["UID"])}


def test_a_shift_given_back_is_open_and_the_lead_is_told_once(run: Run) -> None:
    shift = make_shift(run, run.site.member, Station.FILL)
    opened = give_back(shift=shift, actor=run.site.member, at=run.at(-1))
    assert (opened.pk, opened.user, opened.sequence, opened.load) == (shift.pk, None, 1, run.load)
    assert shifts_wanted(run.day, run.at(0)) == [opened]
    assert [title.split(",")[0] for title in told(run.site.lead)] == ["Somebody is wanted: Fill"]
    assert not told(run.site.member)
    assert [event.action for event in about(shift)] == ["give_back"]


def test_a_watch_given_back_says_so_loudly(run: Run) -> None:
    """Rule S9."""
    give_back(
        shift=make_shift(run, run.site.operator, Station.CANNER), actor=run.site.operator, at=run.at(-1)
    )
    news = Reminder.objects.get(kind=Kind.ROTA)
    assert news.recipient == run.site.lead
    assert news.news["title"].startswith("WATCH GIVEN BACK: Canner")
    assert any("rule S9" in line for line in news.news["lines"])


def test_a_shift_is_given_back_until_it_begins(run: Run) -> None:
    shift = make_shift(run, run.site.member)
    with pytest.raises(BadTime, match="has begun"):
        give_back(shift=shift, actor=run.site.member, at=run.at(0))
    with pytest.raises(NotAllowed):
        give_back(shift=shift, actor=run.site.other, at=run.at(-1))
    give_back(shift=shift, actor=run.site.member, at=run.at(-1))
    with pytest.raises(AlreadyDecided, match="open already"):
        give_back(shift=shift, actor=run.site.lead, at=run.at(-1))


def test_a_lead_opens_the_rest_of_a_shift_under_way(run: Run) -> None:
    shift = make_shift(run, run.site.member, Station.FILL, 0, 60)
    rest = give_back(shift=shift, actor=run.site.lead, at=run.at(20) + timedelta(seconds=30))
    shift.refresh_from_db()
    assert (shift.user, shift.ends_at, shift.sequence) == (run.site.member, run.at(20), 1)
    assert (rest.user, rest.starts_at, rest.ends_at, rest.load) == (None, run.at(20), run.at(60), run.load)
    assert [title.split(",")[0] for title in told(run.site.member)] == ["No longer yours: Fill"]
    with pytest.raises(BadTime, match="is over"):
        give_back(shift=shift, actor=run.site.lead, at=run.at(20))


def test_who_goes_home_leaves_open_shifts(run: Run) -> None:
    done = make_shift(run, run.site.member, Station.PREP, 0, 30)
    under_way = make_shift(run, run.site.member, Station.FILL, 30, 60)
    later = make_shift(run, run.site.member, Station.COOLING, 120, 30)
    opened = leave(harvest_day=run.day, user=run.site.member, at=run.at(45), actor=run.site.lead)
    assert [(one.starts_at, one.ends_at) for one in opened] == [
        (run.at(45), run.at(90)),
        (run.at(120), run.at(150)),
    ]
    for one, user in ((done, run.site.member), (under_way, run.site.member), (later, None)):
        one.refresh_from_db()
        assert one.user == user
    assert len(told(run.site.member)) == 1, "one message for both"


def test_hours_given_back_take_their_shifts_with_them(run: Run) -> None:
    attendance = Attendance.objects.get(harvest_day=run.day, user=run.site.member)
    make_shift(run, run.site.member, Station.PREP, 0, 30)
    make_shift(run, run.site.member, Station.FILL, 60, 30)
    with pytest.raises(BadTime, match="at a station now"):
        withdraw_attendance(attendance=attendance, actor=run.site.member, at=run.at(10))
    assert Attendance.objects.filter(pk=attendance.pk).exists()
    opened = withdraw_attendance(attendance=attendance, actor=run.site.member, at=run.at(-10))
    assert [one.user for one in opened] == [None, None]
    assert not Attendance.objects.filter(pk=attendance.pk).exists()
    assert len(told(run.site.lead)) == 1


def test_an_open_shift_is_taken_once(run: Run) -> None:
    shift = make_shift(run, None)
    assert take(shift=shift, actor=run.site.other, at=run.at(-5)).user == run.site.other
    assert [title.split(":")[0] for title in told(run.site.lead)] == [f"Taken by {run.site.other}"]
    with pytest.raises(ShiftTaken, match=f"{run.site.other} took this shift a moment ago"):
        take(shift=shift, actor=run.site.member, at=run.at(-4))
    with pytest.raises(ShiftTaken, match="took this shift on 12 September"):
        take(shift=shift, actor=run.site.member, at=run.at(10))
    with pytest.raises(AlreadyDecided, match="have this shift"):
        take(shift=shift, actor=run.site.other, at=run.at(-4))
    with pytest.raises(NotAllowed):
        take(shift=make_shift(run, None), actor=make_site().member, at=run.at(-5))


@pytest.mark.parametrize("station", [Station.CANNER, Station.KETTLE, Station.COOLING])
def test_nobody_under_16_takes_anything_hot(run: Run, station: Station) -> None:
    Membership.objects.filter(user=run.site.operator).update(under_16=True)
    with pytest.raises(BadMembership, match="under 16"):
        take(shift=make_shift(run, None, station), actor=run.site.operator, at=run.at(-5))
    with pytest.raises(BadMembership, match="under 16"):
        take(shift=make_shift(run, None, task="cleaning"), actor=run.site.operator, at=run.at(-5))
    assert take(shift=make_shift(run, None), actor=run.site.operator, at=run.at(-5)).user == run.site.operator


def test_a_watch_is_for_who_is_trained_on_the_day(run: Run) -> None:
    """Rule S9: what counts is the date of the day, not today's."""
    shift = make_shift(run, None, Station.CANNER)
    training = CannerTraining.objects.get(membership__user=run.site.operator)
    training.expires_on = run.day.date - timedelta(days=1)
    training.save()
    with pytest.raises(BadMembership, match="not trained"):
        take(shift=shift, actor=run.site.operator, at=run.at(-24 * 60 * 7))
    training.expires_on = run.day.date
    training.save()
    assert take(shift=shift, actor=run.site.operator, at=run.at(-5)).user == run.site.operator


def test_nobody_takes_a_shift_while_elsewhere(run: Run) -> None:
    make_shift(run, run.site.other, Station.FILL, 59, 10)
    with pytest.raises(BadTime, match="another station then: fill, 09:59 to 10:09"):
        take(shift=make_shift(run, None, Station.PREP, 0, 60), actor=run.site.other, at=run.at(-5))
    take(shift=make_shift(run, None, Station.PREP, 0, 59), actor=run.site.other, at=run.at(-5))


def test_of_a_shift_under_way_only_the_rest_must_be_free(run: Run) -> None:
    make_shift(run, run.site.other, Station.FILL, 0, 20)
    shift = make_shift(run, None, Station.PREP, 0, 60)
    with pytest.raises(BadTime, match="another station"):
        take(shift=shift, actor=run.site.other, at=run.at(19))
    assert take(shift=shift, actor=run.site.other, at=run.at(20)).user == run.site.other
    with pytest.raises(BadTime, match="is over"):
        take(shift=make_shift(run, None), actor=run.site.member, at=run.at(60))


def test_nobody_takes_more_than_the_kitchen_asks_of_one_person(run: Run) -> None:
    """180 minutes of work need 15 of rest by the kitchen's policy (common practice)."""
    make_shift(run, run.site.other, Station.PREP, 0, 170)
    with pytest.raises(TooMuchWork, match="185 minutes of work without 15 minutes of rest"):
        take(shift=make_shift(run, None, Station.FILL, 175, 10), actor=run.site.other, at=run.at(-5))
    take(shift=make_shift(run, None, Station.FILL, 185, 10), actor=run.site.other, at=run.at(-5))


def test_the_night_before_counts_in_any_kitchen(run: Run) -> None:
    """600 minutes of rest between two days (common practice); without it the two days are one, and too long."""
    elsewhere = make_bean_run(make_site())
    make_shift(elsewhere, run.site.other, Station.PREP, -800, 60)
    late = make_shift(elsewhere, run.site.other, Station.PREP, -700, 91)
    with pytest.raises(TooMuchWork, match="860 minutes from the first work to the last"):
        take(shift=make_shift(run, None, Station.FILL, -10, 70), actor=run.site.other, at=run.at(-900))
    Shift.objects.filter(pk=late.pk).update(ends_at=run.at(-610))
    take(shift=make_shift(run, None, Station.FILL, -10, 70), actor=run.site.other, at=run.at(-900))


def test_what_was_too_much_before_does_not_keep_a_person_from_other_shifts(run: Run) -> None:
    make_shift(run, run.site.other, Station.PREP, 0, 200)
    take(shift=make_shift(run, None, Station.FILL, 300, 30), actor=run.site.other, at=run.at(-5))


def wish(run: Run, user: User, **said: object) -> None:
    """Only what is named is said."""
    wishes: dict[str, object] = {"likes": set(), "cannot": set(), "most_minutes": None, "comes_with": None}
    membership = Membership.objects.get(kitchen=run.site.kitchen, user=user)
    set_wishes(membership=membership, learning=False, actor=user, **{**wishes, **said})  # type: ignore[arg-type]  # by name


def test_nobody_takes_a_shift_at_a_station_where_they_said_they_cannot_work(run: Run) -> None:
    wish(run, run.site.other, cannot={WishedStation.FILL})
    shift = make_shift(run, None, Station.FILL)
    with pytest.raises(BadMembership, match="cannot work at this station: fill") as refused:
        take(shift=shift, actor=run.site.other, at=run.at(-5))
    assert "When and where I can help" in refused.value.remedy
    with pytest.raises(BadMembership, match="cannot work at this station: fill"):
        hand_over(shift=shift, to=run.site.other, actor=run.site.lead, at=run.at(-5))
    take(shift=make_shift(run, None, Station.PREP), actor=run.site.other, at=run.at(-5))
    elsewhere = make_bean_run(make_site())
    Membership.objects.create(kitchen=elsewhere.site.kitchen, user=run.site.other)
    take(
        shift=make_shift(elsewhere, None, Station.FILL, 90), actor=run.site.other, at=run.at(-5)
    )  # Said in another kitchen, where the benches may be lower.


def test_nobody_takes_a_shift_while_with_whom_they_come_is_not_there(run: Run) -> None:
    wish(
        run, run.site.other, comes_with=Membership.objects.get(kitchen=run.site.kitchen, user=run.site.member)
    )
    Attendance.objects.filter(user=run.site.member).update(ends_at=run.at(60))
    with pytest.raises(BadTime, match=r"comes and goes with .* who is not here for all of 09:30 to 10:30"):
        take(shift=make_shift(run, None, Station.PREP, 30, 60), actor=run.site.other, at=run.at(-5))
    take(shift=make_shift(run, None, Station.PREP, 30, 30), actor=run.site.other, at=run.at(-5))
    # Whoever is not there at all that day is nobody's company.
    Attendance.objects.filter(user=run.site.member).delete()
    take(shift=make_shift(run, None, Station.PREP, 60, 60), actor=run.site.other, at=run.at(-5))


def test_nobody_takes_more_work_in_a_day_than_they_offered(run: Run) -> None:
    wish(run, run.site.other, most_minutes=90)
    make_shift(run, run.site.other, Station.PREP, 0, 60)
    with pytest.raises(TooMuchWork, match="91 minutes of work in a day, where 90 were said") as refused:
        take(shift=make_shift(run, None, Station.PREP, 100, 31), actor=run.site.other, at=run.at(-5))
    assert "most hours in one day" in refused.value.remedy
    take(shift=make_shift(run, None, Station.PREP, 100, 30), actor=run.site.other, at=run.at(-5))


def test_what_was_offered_is_for_one_day_and_one_kitchen(run: Run) -> None:
    wish(run, run.site.other, most_minutes=90)
    make_shift(run, run.site.other, Station.PREP, -1000, 120)
    elsewhere = make_bean_run(make_site())
    make_shift(elsewhere, run.site.other, Station.PREP, -120, 60)
    take(shift=make_shift(run, None, Station.PREP, 0, 90), actor=run.site.other, at=run.at(-125))


def test_a_training_that_runs_out_before_the_day_gives_no_watch(run: Run) -> None:
    """Rule S9: trained on the day of the watch, not on the day of taking it."""
    training = CannerTraining.objects.get(membership__user=run.site.operator)
    shift = make_shift(run, None, Station.CANNER)
    training.expires_on = run.day.date - timedelta(days=1)
    training.save()
    with pytest.raises(BadMembership, match="not trained"):
        take(shift=shift, actor=run.site.operator, at=run.at(-60 * 24 * 3))
    training.expires_on = run.day.date
    training.save()
    take(shift=shift, actor=run.site.operator, at=run.at(-60 * 24 * 3))


def test_a_lead_asks_for_helpers_and_no_longer(run: Run) -> None:
    hours = {"starts_at": run.at(60), "ends_at": run.at(120)}
    with pytest.raises(NotAllowed):
        want_helpers(
            harvest_day=run.day, station=Station.FILL, count=1, actor=run.site.operator, at=run.at(0), **hours
        )
    wanted = want_helpers(
        harvest_day=run.day, station=Station.FILL, count=2, actor=run.site.lead, at=run.at(0), **hours
    )
    assert shifts_wanted(run.day, run.at(0)) == wanted
    taken = take(shift=wanted[0], actor=run.site.other, at=run.at(0))
    with pytest.raises(ShiftTaken):
        want_no_more(shift=taken, actor=run.site.lead, at=run.at(1))
    want_no_more(shift=wanted[1], actor=run.site.lead, at=run.at(1))
    assert not shifts_wanted(run.day, run.at(2))
    with pytest.raises(AlreadyDecided):
        want_no_more(shift=make_shift(run, None), actor=run.site.lead, at=run.at(1))


@pytest.mark.parametrize(
    ("starts", "minutes", "count", "refusal"),
    [
        (-600, 60, 1, BadTime),
        (60, -30, 1, BadTime),
        (60, 60, 0, BadTime),
        (60, 60, 13, BadTime),
        (60, 181, 1, TooMuchWork),
    ],
)
def test_helpers_are_asked_for_in_shifts_that_somebody_can_take(
    run: Run, starts: int, minutes: int, count: int, refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        want_helpers(
            harvest_day=run.day,
            station=Station.PREP,
            starts_at=run.at(starts),
            ends_at=run.at(starts + minutes),
            count=count,
            actor=run.site.lead,
            at=run.at(0),
        )
    assert not Shift.objects.exists()


def test_a_day_that_is_over_wants_nobody(run: Run) -> None:
    run.day.state = DayState.CLOSED
    with pytest.raises(BadHarvestDay):
        want_helpers(
            harvest_day=run.day,
            station=Station.PREP,
            starts_at=run.at(0),
            ends_at=run.at(60),
            count=1,
            actor=run.site.lead,
            at=run.at(0),
        )


def test_a_lead_fills_an_open_shift_and_the_person_is_told(run: Run) -> None:
    shift = make_shift(run, None, Station.CANNER)
    with pytest.raises(NotAllowed):
        hand_over(shift=shift, to=run.site.operator, actor=run.site.member, at=run.at(-5))
    given = hand_over(shift=shift, to=run.site.operator, actor=run.site.lead, at=run.at(-5))
    assert given.user == run.site.operator
    assert [title.split(",")[0] for title in told(run.site.operator)] == ["Yours now: Canner"]
    assert not told(run.site.lead), "who did it knows"
    hand_over(shift=given, to=run.site.lead, actor=run.site.operator, at=run.at(-4))
    assert [title.split(",")[0] for title in told(run.site.lead)] == ["Yours now: Canner"]
    with pytest.raises(AlreadyDecided, match="already"):
        hand_over(shift=given, to=run.site.lead, actor=run.site.lead, at=run.at(-4))


def test_both_calendars_follow(run: Run) -> None:
    shift = make_shift(run, run.site.member, Station.FILL)
    uid = next(iter(entries(run, run.site.member)))
    give_back(shift=shift, actor=run.site.member, at=run.at(-30))
    lost = entries(run, run.site.member, -20)[uid]
    assert (lost["STATUS"], lost["SEQUENCE"]) == ("CANCELLED", 1)
    assert b"Fill: open\\, somebody is wanted" in day_ics(run.day)
    take(shift=shift, actor=run.site.other, at=run.at(-20))
    got = entries(run, run.site.other, -10)[uid]
    assert got.get("STATUS") != "CANCELLED"
    assert (got["SEQUENCE"], got.decoded("DTSTART")) == (2, run.at(0))
    lost = entries(run, run.site.member, -10)[uid]
    assert (lost["STATUS"], lost["SEQUENCE"]) == ("CANCELLED", 2)
    give_back(shift=shift, actor=run.site.other, at=run.at(-9))
    take(shift=shift, actor=run.site.member, at=run.at(-8))
    again = entries(run, run.site.member, -7)
    assert list(again) == [uid], "it stands once, and no trace of the loss is left"
    assert (again[uid].get("STATUS") == "CANCELLED", again[uid]["SEQUENCE"]) == (False, 4)
    assert not entries(run, run.site.lead, -7)


def test_a_lost_shift_leaves_the_calendar_after_a_week(run: Run) -> None:
    shift = make_shift(run, run.site.member, Station.FILL)
    give_back(shift=shift, actor=run.site.member, at=run.at(-8 * 24 * 60))
    assert len(entries(run, run.site.member, -7 * 24 * 60)) == 1
    assert not entries(run, run.site.member, -30)


def test_a_day_that_is_closed_needs_nobody(run: Run) -> None:
    """What was done stays; what was still to come falls away, in calendars too."""
    tomorrow = timezone.now() + timedelta(days=1)
    done = make_shift(run, run.site.member)
    planned, asked_for = make_shift(run, run.site.other), make_shift(run, None, asked_for=True)
    for shift in (planned, asked_for):
        Shift.objects.filter(pk=shift.pk).update(starts_at=tomorrow, ends_at=tomorrow + timedelta(hours=1))
    HarvestDay.objects.filter(pk=run.day.pk).update(state=DayState.PUBLISHED)
    run.day.refresh_from_db()
    close_harvest_day(harvest_day=run.day, actor=run.site.lead)
    for shift in (done, planned, asked_for):
        shift.refresh_from_db()
    assert (done.cancelled_at, done.sequence) == (None, 0)
    assert None not in (planned.cancelled_at, asked_for.cancelled_at)
    assert (planned.sequence, asked_for.sequence) == (1, 1)
    with pytest.raises(BadHarvestDay):
        take(shift=make_shift(run, None), actor=run.site.member, at=run.at(-5))
