"""Offers of shifts: to anybody and to one person, for nothing and for another shift, and when they no longer stand."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from kitchen.errors import (
    AlreadyDecided,
    BadMembership,
    BadTime,
    KitchenError,
    NotAllowed,
    ShiftTaken,
    TooMuchWork,
)
from kitchen.helping.models import Station as WishedStation
from kitchen.members.models import User
from kitchen.reminders.models import Kind, Reminder
from kitchen.rota.actions import give_back, hand_over
from kitchen.rota.models import OfferState, Shift, Station, SwapOffer
from kitchen.rota.queries import standing_offers
from kitchen.rota.swaps import accept_offer, offer_swap, withdraw_offer
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.shifts import make_shift
from tests.factories.sites import make_site
from tests.kitchen.rota.test_open_shifts import entries, told, wish

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


@pytest.fixture
def mine(run: Run) -> Shift:
    """The member's hour at prep."""
    return make_shift(run, run.site.member, Station.PREP, 0, 60)


@pytest.fixture
def theirs(run: Run) -> Shift:
    """The other member's hour at fill, an hour later."""
    return make_shift(run, run.site.other, Station.FILL, 60, 60)


def holders(*shifts: Shift) -> list[User | None]:
    return [Shift.objects.get(pk=shift.pk).user for shift in shifts]


def test_a_shift_offered_to_anybody_goes_to_who_accepts_first(run: Run, mine: Shift) -> None:
    site = run.site
    offer = offer_swap(shift=mine, actor=site.member, at=run.at(-60))
    assert list(standing_offers(run.day, run.at(-30))) == [offer]
    assert not Reminder.objects.exists(), "an offer to anybody stands on everybody's page"
    with pytest.raises(NotAllowed, match="not for you"):
        accept_offer(offer=offer, actor=site.member, at=run.at(-30))
    accept_offer(offer=offer, actor=site.other, at=run.at(-30))
    assert holders(mine) == [site.other]
    assert told(site.member) == [f"{site.other} accepted your offer"]
    with pytest.raises(ShiftTaken, match=f"{site.other} accepted this offer a moment ago"):
        accept_offer(offer=offer, actor=site.lead, at=run.at(-29))


def test_two_shifts_change_hands_at_once_and_both_calendars_follow(
    run: Run, mine: Shift, theirs: Shift
) -> None:
    site = run.site
    offer = offer_swap(shift=mine, actor=site.member, wants=theirs, at=run.at(-60))
    assert offer.to == site.other
    assert told(site.other) == [f"{site.member} offers you a shift"]
    with pytest.raises(NotAllowed):
        accept_offer(offer=offer, actor=site.lead, at=run.at(-30))
    accept_offer(offer=offer, actor=site.other, at=run.at(-30))
    assert holders(mine, theirs) == [site.other, site.member]
    for user, has, lost in ((site.member, theirs, mine), (site.other, mine, theirs)):
        found = entries(run, user, -20)
        states = {
            str(uid).split("@")[0].removeprefix("shift-"): event.get("STATUS") for uid, event in found.items()
        }
        assert states[str(lost.uuid)] == "CANCELLED"
        assert states[str(has.uuid)] != "CANCELLED"
        assert {event["SEQUENCE"] for event in found.values()} == {1}


def test_neighbouring_shifts_are_swapped_though_each_is_in_the_other_s_way(run: Run) -> None:
    """At the same hour, at two stations: each gives what would be in the way."""
    site = run.site
    mine = make_shift(run, site.member, Station.PREP, 0, 60)
    theirs = make_shift(run, site.other, Station.FILL, 30, 60)
    offer = offer_swap(shift=mine, actor=site.member, wants=theirs, at=run.at(-60))
    accept_offer(offer=offer, actor=site.other, at=run.at(-30))
    assert holders(mine, theirs) == [site.other, site.member]


def test_an_offer_is_refused_to_who_may_not_take_it(run: Run, mine: Shift) -> None:
    site = run.site
    watch = make_shift(run, site.operator, Station.CANNER, 0, 60)
    with pytest.raises(BadMembership, match="not trained"):
        offer_swap(shift=watch, actor=site.operator, to=site.member, at=run.at(-60))
    with pytest.raises(BadMembership, match="not trained"):
        offer_swap(shift=mine, actor=site.member, wants=watch, at=run.at(-60))
    with pytest.raises(NotAllowed, match="not your shift"):
        offer_swap(shift=mine, actor=site.other, at=run.at(-60))
    with pytest.raises(BadMembership, match="yourself"):
        offer_swap(shift=mine, actor=site.member, to=site.member, at=run.at(-60))
    with pytest.raises(BadMembership, match="in return"):
        offer_swap(shift=mine, actor=site.member, to=site.other, wants=watch, at=run.at(-60))
    with pytest.raises(BadTime, match="begun"):
        offer_swap(shift=mine, actor=site.member, at=run.at(0))
    assert not SwapOffer.objects.exists()


def test_accepting_is_checked_for_both(run: Run, mine: Shift, theirs: Shift) -> None:
    site = run.site
    offer = offer_swap(shift=mine, actor=site.member, wants=theirs, at=run.at(-60))
    make_shift(run, site.member, Station.PREP, 130, 120)
    with pytest.raises(TooMuchWork, match=f"{site.member} would then have 190 minutes"):
        accept_offer(offer=offer, actor=site.other, at=run.at(-50))
    assert holders(mine, theirs) == [site.member, site.other]
    assert list(standing_offers(run.day, run.at(-30))) == [offer], "refused, and still open"


def test_wishes_are_asked_of_both_when_shifts_are_swapped(run: Run, mine: Shift, theirs: Shift) -> None:
    site = run.site
    wish(run, site.other, cannot={WishedStation.PREP})
    with pytest.raises(BadMembership, match=f"{site.other} said that they cannot work at this station: prep"):
        offer_swap(shift=mine, actor=site.member, wants=theirs, at=run.at(-60))
    wish(run, site.other)
    offer = offer_swap(shift=mine, actor=site.member, wants=theirs, at=run.at(-60))
    wish(run, site.member, cannot={WishedStation.FILL})
    with pytest.raises(
        BadMembership, match=f"{site.member} said that they cannot work at this station: fill"
    ):
        accept_offer(offer=offer, actor=site.other, at=run.at(-50))
    assert holders(mine, theirs) == [site.member, site.other]


def test_a_swap_adds_no_more_work_than_was_offered(run: Run, theirs: Shift) -> None:
    """But a swap for a shift that is no longer is allowed to who has too much already."""
    site = run.site
    long = make_shift(run, site.member, Station.PREP, 200, 61)
    wish(run, site.other, most_minutes=60)
    with pytest.raises(TooMuchWork, match=f"{site.other} would then have 61 minutes of work"):
        offer_swap(shift=long, actor=site.member, wants=theirs, at=run.at(-60))
    wish(run, site.other, most_minutes=30)
    equal = make_shift(run, site.member, Station.PREP, 300, 60)
    offer = offer_swap(shift=equal, actor=site.member, wants=theirs, at=run.at(-60))
    accept_offer(offer=offer, actor=site.other, at=run.at(-50))
    assert holders(equal, theirs) == [site.other, site.member]


def test_an_offer_is_taken_back_by_its_own_person(run: Run, mine: Shift) -> None:
    site = run.site
    offer = offer_swap(shift=mine, actor=site.member, to=site.other, at=run.at(-60))
    with pytest.raises(AlreadyDecided, match="offer this shift already"):
        offer_swap(shift=mine, actor=site.member, at=run.at(-59))
    with pytest.raises(NotAllowed):
        withdraw_offer(offer=offer, actor=site.other, at=run.at(-50))
    withdraw_offer(offer=offer, actor=site.member, at=run.at(-50))
    with pytest.raises(ShiftTaken, match="took this offer back"):
        accept_offer(offer=offer, actor=site.other, at=run.at(-40))
    assert len(told(site.other)) == 2
    offer_swap(shift=mine, actor=site.member, at=run.at(-30))


def test_an_offer_lapses_when_its_shift_begins(run: Run, mine: Shift) -> None:
    offer = offer_swap(shift=mine, actor=run.site.member, at=run.at(-60))
    assert not standing_offers(run.day, run.at(0)).exists()
    with pytest.raises(BadTime, match="begun"):
        accept_offer(offer=offer, actor=run.site.other, at=run.at(0))


@pytest.mark.parametrize("of", ["shift", "wants"])
@pytest.mark.parametrize("what", ["moved", "cancelled", "handed over", "given back"])
def test_an_offer_lapses_when_a_shift_in_it_changes(
    run: Run, mine: Shift, theirs: Shift, of: str, what: str
) -> None:
    site = run.site
    offer = offer_swap(shift=mine, actor=site.member, wants=theirs, at=run.at(-60))
    changed = mine if of == "shift" else theirs
    if what == "handed over":
        hand_over(shift=changed, to=site.operator, actor=site.lead, at=run.at(-50))
    elif what == "given back":
        give_back(shift=changed, actor=site.lead, at=run.at(-50))
    elif what == "moved":
        Shift.objects.filter(pk=changed.pk).update(sequence=1, ends_at=run.at(150))
    else:
        Shift.objects.filter(pk=changed.pk).update(sequence=1, cancelled_at=run.at(-50))
    assert not standing_offers(run.day, run.at(-40)).exists()
    before = holders(mine, theirs)
    with pytest.raises((ShiftTaken, AlreadyDecided)):
        accept_offer(offer=offer, actor=site.other, at=run.at(-40))
    assert holders(mine, theirs) == before


def test_a_lapsed_offer_makes_room_for_a_new_one(run: Run, mine: Shift) -> None:
    site = run.site
    first = offer_swap(shift=mine, actor=site.member, at=run.at(-60))
    hand_over(shift=mine, to=site.other, actor=site.member, at=run.at(-50))
    second = offer_swap(shift=mine, actor=site.other, at=run.at(-40))
    first.refresh_from_db()
    assert (first.state, second.state) == (OfferState.LAPSED, OfferState.OPEN)
    assert list(standing_offers(run.day, run.at(-30))) == [second]


def test_the_leads_hear_of_a_watch_that_changed_hands(run: Run) -> None:
    """Rule S9: whoever answers for the day knows who stands at a canner."""
    watch = make_shift(run, run.site.operator, Station.CANNER, 0, 60)
    membership = run.site.member.memberships.get()
    membership.trainings.create(trained_on="2026-01-01", trained_by="Extension office")
    accept_offer(
        offer=offer_swap(shift=watch, actor=run.site.operator, at=run.at(-60)),
        actor=run.site.member,
        at=run.at(-50),
    )
    assert [title.split(":")[0] for title in told(run.site.lead)] == ["A watch changed hands"]


def test_the_database_holds_one_open_offer_a_shift(run: Run, mine: Shift) -> None:
    offer_swap(shift=mine, actor=run.site.member, at=run.at(-60))
    with pytest.raises(IntegrityError), transaction.atomic():
        SwapOffer.objects.create(shift=mine, shift_sequence=0, offered_by=run.site.member)


def test_every_refusal_says_what_to_do(run: Run, mine: Shift) -> None:
    with pytest.raises(KitchenError) as refused:
        offer_swap(shift=mine, actor=run.site.other, at=run.at(-60))
    assert refused.value.remedy
    assert not Reminder.objects.filter(kind=Kind.ROTA).exists()
