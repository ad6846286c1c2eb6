"""What a member sees of an offer that lapsed, and of shifts that are more than they offered or where they cannot be."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.helping.actions import set_wishes
from kitchen.helping.models import Station as WishedStation
from kitchen.members.actions import end_membership
from kitchen.members.models import User
from kitchen.members.signing_in import set_password
from kitchen.planning.models import HarvestDay
from kitchen.reminders.sweeping import sweep_due
from kitchen.rota.actions import hand_over
from kitchen.rota.models import Shift, Station
from kitchen.rota.swaps import offer_swap
from tests.factories.sites import Site, make_open_day, make_site
from tests.journeys.visitor import PASSWORD, Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def site() -> Site:
    made = make_site()
    for user in (made.lead, made.member):
        set_password(user=user, password=PASSWORD, actor=None)
    return made


@pytest.fixture
def day(site: Site) -> HarvestDay:
    tomorrow = timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=1)
    return make_open_day(site, day=tomorrow)


def shift(
    site: Site, day: HarvestDay, user: User | None, station: Station, hour: int, minutes: int = 60
) -> Shift:
    starts = site.at(hour, day=day.date)
    return Shift.objects.create(
        harvest_day=day,
        user=user,
        station=station,
        asked_for=True,
        starts_at=starts,
        ends_at=starts + timedelta(minutes=minutes),
    )


@pytest.mark.parametrize("width", [390, 1280])
def test_a_lapsed_offer_and_shifts_that_are_not_for_me(
    visit: Callable[[int], Visitor], site: Site, day: HarvestDay, width: int
) -> None:
    set_wishes(
        membership=site.member.memberships.get(),
        likes=set(),
        cannot={WishedStation.COOLING},
        most_minutes=150,
        comes_with=None,
        learning=False,
        actor=site.member,
    )
    mine = shift(site, day, site.member, Station.PREP, 9)
    theirs = shift(site, day, site.other, Station.FILL, 11)
    shift(site, day, None, Station.COOLING, 14)
    shift(site, day, None, Station.FILL, 15, 120)
    shift(site, day, None, Station.FILL, 15, 60)
    offer_swap(shift=mine, actor=site.member, wants=theirs)
    hand_over(shift=theirs, to=site.operator, actor=site.lead)

    member = visit(width)
    member.sign_in(site.member.email)
    member.page.goto(reverse("rota:mine", args=[site.kitchen.slug, day.uuid]))
    member.look("rota-lapsed")
    lapsed = member.page.get_by_role("region", name="Offers that have lapsed")
    expect(lapsed).to_contain_text(f"offered by you to {site.other}")
    expect(lapsed).to_contain_text(f"{site.operator} has {site.other}'s shift now: Fill, 11:00 to 12:00.")
    wanted = member.page.get_by_role("region", name="Open shifts: somebody is wanted")
    expect(wanted).to_contain_text("cannot work at this station: cooling and labels")
    expect(wanted).to_contain_text("180 minutes of work in a day, where 150 were said to be the most")
    expect(wanted.get_by_role("button")).to_have_count(1)
    sweep_due()
    member.page.goto(reverse("home:notices", args=[site.kitchen.slug]))
    member.look("rota-lapsed-notice")
    expect(member.page.get_by_text("An offer has lapsed")).to_be_visible()

    end_membership(membership=site.operator.memberships.get(), actor=site.lead)
    lead = visit(width)
    lead.sign_in(site.lead.email)
    lead.page.goto(reverse("rota:everybody", args=[site.kitchen.slug, day.uuid]))
    lead.look("rota-left")
    expect(lead.page.get_by_role("region", name="Who is there")).not_to_contain_text(str(site.operator))
