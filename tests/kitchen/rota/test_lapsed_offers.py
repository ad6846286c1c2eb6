"""Offers that lapse: the page says so and why, and each person concerned is written to once, but for who changed it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from kitchen.audit.queries import about
from kitchen.errors import ShiftTaken
from kitchen.members.models import User
from kitchen.planning.signals import day_closed
from kitchen.reminders.models import Reminder
from kitchen.rota.actions import give_back, hand_over, leave
from kitchen.rota.lapsing import lapse_and_tell, why_lapsed
from kitchen.rota.models import Attendance, OfferState, Shift, Station, SwapOffer
from kitchen.rota.pages import my_day
from kitchen.rota.queries import standing_offers
from kitchen.rota.swaps import accept_offer, offer_swap
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.shifts import make_shift
from tests.factories.sites import make_site
from tests.kitchen.rota.test_open_shifts import told

pytestmark = pytest.mark.django_db

TITLE = "An offer has lapsed: Saturday 12 September"


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


@pytest.fixture
def offer(run: Run) -> SwapOffer:
    """The member's hour at prep for the other's hour at fill."""
    mine = make_shift(run, run.site.member, Station.PREP, 0, 60)
    theirs = make_shift(run, run.site.other, Station.FILL, 60, 60)
    offered = offer_swap(shift=mine, actor=run.site.member, wants=theirs, at=run.at(-60))
    Reminder.objects.all().delete()
    return offered


def lapse_lines(user: User) -> list[str]:
    """What a person was told of offers that lapsed, line by line."""
    news = Reminder.objects.filter(recipient=user, news__title=TITLE)
    return [line for one in news for line in one.news["lines"]]


def test_both_hear_why_when_the_lead_hands_the_shift_over(run: Run, offer: SwapOffer) -> None:
    site = run.site
    hand_over(shift=offer.shift, to=site.operator, actor=site.lead, at=run.at(-30))
    offer.refresh_from_db()
    assert (offer.state, offer.decided_at) == (OfferState.LAPSED, run.at(-30))
    shift = f"Prep, Saturday 12 September, 09:00 to 10:00, {run.load.canner} load 1"
    why = f"{site.operator} has {site.member}'s shift now: Prep, 09:00 to 10:00."
    assert lapse_lines(site.member) == [f"Your offer to {site.other} has lapsed: {shift}. {why}"]
    assert lapse_lines(site.other) == [f"{site.member}'s offer has lapsed: {shift}. {why}"]
    assert [
        (event.action, event.after["why"]) for event in about(offer) if event.action == "offer_lapsed"
    ] == [("offer_lapsed", why)]
    for user, own in ((site.member, True), (site.other, False)):
        [shown] = my_day(run.day, user, run.at(-20)).lapsed
        assert (shown.offer, shown.own, shown.why) == (offer, own, why)
    assert not my_day(run.day, site.lead, run.at(-20)).lapsed
    with pytest.raises(ShiftTaken, match=f"lapsed. {site.operator} has"):
        accept_offer(offer=offer, actor=site.other, at=run.at(-20))


def test_who_changed_the_shift_is_not_written_to(run: Run, offer: SwapOffer) -> None:
    site = run.site
    assert offer.wants is not None
    give_back(shift=offer.wants, actor=site.other, at=run.at(-30))
    assert not lapse_lines(site.other)
    [line] = lapse_lines(site.member)
    assert line.endswith(f"{site.other} no longer has the shift; it is open: Fill, 10:00 to 11:00.")
    give_back(shift=offer.shift, actor=site.member, at=run.at(-20))
    assert len(lapse_lines(site.member)) == 1, "it lapsed once"


def test_one_message_tells_of_all_offers_that_lapsed_at_once(run: Run, offer: SwapOffer) -> None:
    site = run.site
    offer_swap(shift=make_shift(run, site.member, Station.PREP, 200, 30), actor=site.member, at=run.at(-60))
    Attendance.objects.create(
        harvest_day=run.day, user=site.member, starts_at=run.at(-60), ends_at=run.at(300)
    )
    leave(harvest_day=run.day, user=site.member, actor=site.lead, at=run.at(-30))
    assert told(site.member).count(TITLE) == 1
    assert len(lapse_lines(site.member)) == 2
    assert len(lapse_lines(site.other)) == 1


def test_accepting_one_offer_lapses_those_that_hang_on_the_same_shifts(run: Run, offer: SwapOffer) -> None:
    """The shift asked for in return was offered to anybody as well; it has changed hands now."""
    site = run.site
    assert offer.wants is not None
    other = offer_swap(shift=offer.wants, actor=site.other, to=site.operator, at=run.at(-50))
    accept_offer(offer=offer, actor=site.other, at=run.at(-40))
    other.refresh_from_db()
    assert other.state == OfferState.LAPSED
    [line] = lapse_lines(site.operator)
    assert f"{site.member} has {site.other}'s shift now" in line
    assert not lapse_lines(site.member), "accepted, not lapsed"
    assert not lapse_lines(site.other)


@pytest.mark.parametrize("of", ["shift", "wants"])
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"ends": 130}, "shift has changed since; it is now: "),
        ({"cancelled": True}, "shift is no longer planned: "),
    ],
)
def test_the_reason_is_given_whichever_shift_changed(
    run: Run, offer: SwapOffer, of: str, changes: dict[str, float], words: str
) -> None:
    shift: Shift = getattr(offer, of)
    shift.sequence += 1
    if "ends" in changes:
        shift.ends_at = run.at(changes["ends"])
    else:
        shift.cancelled_at = run.at(-50)
    shift.save()
    lapse_and_tell(run.day, by=None, at=run.at(-40))
    for user in (run.site.member, run.site.other):
        [line] = lapse_lines(user)
        assert f"{shift.user}'s {words}" in line


def test_an_offer_that_nobody_accepted_in_time_is_shown_and_nobody_is_written_to(
    run: Run, offer: SwapOffer
) -> None:
    lapse_and_tell(run.day, by=None, at=run.at(5))
    assert not Reminder.objects.exists()
    [shown] = my_day(run.day, run.site.member, run.at(5)).lapsed
    assert shown.why == "Nobody accepted it before the shift began."
    assert not my_day(run.day, run.site.member, run.at(-5)).lapsed


def test_what_stands_has_not_lapsed_and_the_other_way_round(run: Run, offer: SwapOffer) -> None:
    """Two readings of the same question: the query behind the buttons and the reason in words."""
    for minutes in (-30, 0):
        stands = standing_offers(run.day, run.at(minutes)).filter(pk=offer.pk).exists()
        assert stands == (why_lapsed(offer, run.at(minutes)) is None)


def test_a_day_that_closes_ends_its_offers(run: Run, offer: SwapOffer) -> None:
    run.day.state = "closed"
    run.day.save()
    day_closed.send(sender=type(run.day), day=run.day, actor=run.site.lead, at=run.at(-30))
    [line] = lapse_lines(run.site.other)
    assert line.endswith("The day is over.")


def test_my_page_says_that_it_lapsed_and_why(run: Run, offer: SwapOffer, client: Client) -> None:
    site = run.site
    hand_over(shift=offer.shift, to=site.operator, actor=site.lead, at=run.at(-30))
    client.force_login(site.member)
    text = client.get(reverse("rota:mine", args=[site.kitchen.slug, run.day.uuid])).content.decode()
    assert "Offers that have lapsed" in text
    assert f"offered by you to {site.other}" in text
    assert f"{site.operator} has {site.member}&#x27;s shift now" in text
    client.force_login(site.operator)
    assert (
        "have lapsed"
        not in client.get(reverse("rota:mine", args=[site.kitchen.slug, run.day.uuid])).content.decode()
    )
