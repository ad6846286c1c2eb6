"""A new plan that undoes a swap or a shift that was taken: each person concerned hears of it once, nobody else."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kitchen.errors import PlanOutOfDate
from kitchen.members.models import User
from kitchen.planning.actions import publish_plan
from kitchen.planning.models import HarvestDay
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Kind, Reminder
from kitchen.rota.actions import give_back, hand_over, take
from kitchen.rota.models import OfferState, Shift, Station
from kitchen.rota.swaps import offer_swap
from kitchen.rota.telling import shift_words
from kitchen.rota.telling_plan import changes
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.shifts import make_shift
from tests.factories.sites import Site, declare, make_open_day, make_site, plan

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 10, tzinfo=UTC)


def news_of(user: User) -> list[list[str]]:
    """The lines of each message that waits for a person."""
    return [one.news["lines"] for one in Reminder.objects.filter(kind=Kind.ROTA, recipient=user)]


def published_again(site: Site, day: HarvestDay) -> HarvestDay:
    Reminder.objects.all().delete()
    return publish_plan(job=plan(site, day), actor=site.lead, now=NOW)


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """A published day on which only the lead and the member help; the first plan is no news."""
    opened = make_open_day(site)
    declare(site, opened)
    opened.attendances.exclude(user__in=[site.lead, site.member]).delete()
    day = publish_plan(job=plan(site, opened), actor=site.lead, now=NOW)
    assert not Reminder.objects.filter(kind=Kind.ROTA).exists()
    return day


def test_who_loses_and_who_gets_a_shift_hear_of_it_once(site: Site, day: HarvestDay) -> None:
    first, second = day.shifts.filter(user=site.member).order_by("starts_at", "pk")[:2]
    for shift in (first, second):
        hand_over(shift=shift, to=site.other, actor=site.lead, at=NOW)
    published_again(site, day)
    assert Reminder.objects.filter(kind=Kind.ROTA).count() == 2
    [lost], [got] = news_of(site.other), news_of(site.member)
    assert "also where shifts were taken or swapped" in lost[0]
    assert lost[1:] == [f"No longer yours: {shift_words(shift)}" for shift in (first, second)]
    assert got[1:] == [f"Yours now: {shift_words(shift)}" for shift in (first, second)]
    for one in Reminder.objects.filter(kind=Kind.ROTA):
        assert one.news["title"] == "A new plan changes your shifts on Saturday 12 September"
        assert message_of(one, now=NOW).message_id == message_of(one, now=NOW + timedelta(days=1)).message_id
    published_again(site, day)
    assert not Reminder.objects.filter(kind=Kind.ROTA).exists(), "nothing has changed since"


def test_a_shift_that_was_taken_and_goes_back_is_told_with_the_offer_that_lapsed(
    site: Site, day: HarvestDay
) -> None:
    shift = day.shifts.filter(user=site.member).order_by("starts_at", "pk")[0]
    give_back(shift=shift, actor=site.member, at=NOW)
    taken = take(shift=shift, actor=site.other, at=NOW)
    offer = offer_swap(shift=taken, actor=site.other, to=site.operator, at=NOW)
    published_again(site, day)
    offer.refresh_from_db()
    assert offer.state == OfferState.LAPSED
    why = f"{site.other}'s shift is no longer planned"
    [lost], [offered] = news_of(site.other), news_of(site.operator)
    assert lost[1] == f"No longer yours: {shift_words(taken)}"
    assert lost[2].startswith(f"Your offer to {site.operator} has lapsed")
    assert why in lost[2]
    assert why in offered[-1]
    assert Reminder.objects.get(recipient=site.operator).news["title"].startswith("An offer has lapsed")
    assert not news_of(site.lead)


def test_a_plan_that_is_refused_is_no_news(site: Site, day: HarvestDay) -> None:
    shift = day.shifts.filter(user=site.member).order_by("starts_at", "pk")[0]
    hand_over(shift=shift, to=site.other, actor=site.lead, at=NOW)
    job = plan(site, day)
    day.attendances.filter(user=site.lead).update(starts_at=day.opens_at + timedelta(minutes=1))
    Reminder.objects.all().delete()
    with pytest.raises(PlanOutOfDate):
        publish_plan(job=job, actor=site.lead, now=NOW)
    assert not Reminder.objects.filter(kind=Kind.ROTA).exists()


def test_the_first_plan_tells_only_who_loses_a_shift_asked_for_by_hand(site: Site) -> None:
    opened = make_open_day(site)
    declare(site, opened)
    opened.attendances.exclude(user__in=[site.lead, site.member]).delete()
    helping = [
        Shift.objects.create(
            harvest_day=opened,
            user=user,
            station="prep",
            asked_for=True,
            starts_at=site.at(7),
            ends_at=site.at(20),
        )
        for user in (site.member, site.other)
    ]
    publish_plan(job=plan(site, opened), actor=site.lead, now=NOW)
    [told] = Reminder.objects.filter(kind=Kind.ROTA)
    assert told.recipient == site.member
    assert f"No longer yours: {shift_words(helping[0])}" in told.news["lines"]
    assert any(line.startswith("Yours now: ") for line in told.news["lines"])


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def test_the_same_work_under_another_row_is_no_change(run: Run) -> None:
    before, after = make_shift(run, run.site.member), make_shift(run, run.site.member)
    assert changes([before], [after]) == []
    assert changes([before], [before]) == []
    assert changes([before, after], [after]) == [f"No longer yours: {shift_words(before)}"]


def test_a_shift_at_another_time_is_told_as_such(run: Run) -> None:
    before = make_shift(run, run.site.member, Station.FILL, 0, 60)
    after = Shift.objects.get(pk=before.pk)
    after.starts_at, after.ends_at = run.at(30), run.at(90)
    assert changes([before], [after]) == [f"At another time: {shift_words(after)}; it was 09:00 to 10:00"]
