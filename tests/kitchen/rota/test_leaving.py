"""Somebody leaves the kitchen: what they were still to do is open, the leads know, and nobody counts on their hours."""

from __future__ import annotations

import pytest

from kitchen.audit.queries import about
from kitchen.errors import BadTime
from kitchen.members.actions import end_membership
from kitchen.members.models import Membership, User
from kitchen.reminders.models import Kind, Reminder
from kitchen.rota.models import Attendance, OfferState, Shift, Station
from kitchen.rota.queries import shifts_wanted
from kitchen.rota.swaps import offer_swap
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.shifts import make_shift
from tests.factories.sites import make_site
from tests.kitchen.rota.test_open_shifts import told

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def go(run: Run, user: User, actor: User, minutes: float) -> None:
    membership = Membership.objects.get(kitchen=run.site.kitchen, user=user)
    end_membership(membership=membership, actor=actor, at=run.at(minutes))


def test_all_that_was_still_to_come_is_open_and_the_lead_is_told(run: Run) -> None:
    site = run.site
    done = make_shift(run, site.member, Station.PREP, -120, 30)
    later = [
        make_shift(run, site.member, Station.FILL, 0, 30),
        make_shift(run, site.member, minutes=20, starts=90),
    ]
    hours = Attendance.objects.get(user=site.member)
    hours.ends_at = run.at(-20)
    hours.save()
    Attendance.objects.create(
        harvest_day=run.day, user=site.member, starts_at=run.at(-10), ends_at=run.at(200)
    )
    go(run, site.member, site.member, -30)
    assert shifts_wanted(run.day, run.at(-20)) == later
    done.refresh_from_db()
    assert done.user == site.member
    [news] = Reminder.objects.filter(kind=Kind.ROTA)
    assert news.recipient == site.lead
    assert news.news["title"].startswith("Somebody is wanted: Fill, Saturday 12 September, 09:00 to 09:30")
    assert news.news["lines"][0] == f"{site.member} has left the kitchen. The loads stay planned."
    assert len(news.news["lines"]) == 3
    left = Attendance.objects.filter(user=site.member)
    assert [one.ends_at for one in left] == [run.at(-30)], "hours to come are gone"
    assert "open_shift" in [event.action for event in about(later[0])]


def test_a_watch_left_open_says_so_loudly_and_a_lead_tells_the_person(run: Run) -> None:
    """Rule S9."""
    site = run.site
    watch = make_shift(run, site.operator, Station.CANNER, 0, 60)
    go(run, site.operator, site.lead, 20)
    watch.refresh_from_db()
    assert (watch.user, watch.ends_at) == (site.operator, run.at(20))
    (rest,) = shifts_wanted(run.day, run.at(20))
    assert (rest.starts_at, rest.ends_at) == (run.at(20), run.at(60))
    [title] = told(site.lead)
    assert title.startswith("WATCH OPEN: Canner, Saturday 12 September, 09:20 to 10:00")
    [news] = Reminder.objects.filter(recipient=site.operator)
    assert news.news["lines"][0].startswith(f"You no longer belong to {site.kitchen}")
    assert news.news["path"] == "/", "the rota's pages are closed to them"


def test_nobody_leaves_by_themselves_from_a_station(run: Run) -> None:
    """Rule S9: somebody takes over first."""
    site = run.site
    make_shift(run, site.operator, Station.CANNER, 0, 60)
    with pytest.raises(BadTime, match="at a station now"):
        go(run, site.operator, site.operator, 20)
    assert Membership.objects.get(kitchen=site.kitchen, user=site.operator).left_at is None
    go(run, site.operator, site.operator, 60)


def test_shifts_in_another_kitchen_stay(run: Run) -> None:
    elsewhere = make_bean_run(make_site())
    Membership.objects.create(kitchen=elsewhere.site.kitchen, user=run.site.member)
    kept = make_shift(elsewhere, run.site.member)
    go(run, run.site.member, run.site.lead, -30)
    assert Shift.objects.get(pk=kept.pk).user == run.site.member
    assert not Reminder.objects.exists(), "nothing was theirs to do here"


def test_offers_to_who_left_lapse(run: Run) -> None:
    site = run.site
    shift = make_shift(run, site.member)
    offer = offer_swap(shift=shift, actor=site.member, to=site.other, at=run.at(-60))
    Reminder.objects.all().delete()
    go(run, site.other, site.lead, -30)
    offer.refresh_from_db()
    assert offer.state == OfferState.LAPSED
    assert (
        f"{site.other} has left the kitchen." in Reminder.objects.get(recipient=site.member).news["lines"][0]
    )
    assert not told(site.other), "the rota's pages are closed to them"


def test_the_one_who_left_hears_of_their_shifts_and_not_of_their_offers(run: Run) -> None:
    site = run.site
    offer = offer_swap(shift=make_shift(run, site.member), actor=site.member, to=site.other, at=run.at(-60))
    Reminder.objects.all().delete()
    go(run, site.member, site.lead, -30)
    offer.refresh_from_db()
    assert offer.state == OfferState.LAPSED
    assert [title.split(":")[0] for title in told(site.member)] == ["No longer yours"]
    assert [title.split(":")[0] for title in told(site.other)] == ["An offer has lapsed"]
