"""The rota's addresses: who finds them, what they show, and that each press does its one thing or says why not."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kitchen.members.models import Membership, User
from kitchen.planning.models import DayState, HarvestDay
from kitchen.rota import urls
from kitchen.rota.models import OfferState, Shift, Station, SwapOffer
from kitchen.rota.pages import my_day
from kitchen.rota.swaps import offer_swap
from scheduler.caution import CAUTION
from tests.factories.sites import Site, make_open_day, make_site
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

NAMES = [str(one.name) for one in urls.urlpatterns]


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """Tomorrow, with everybody there."""
    opened = make_open_day(site, day=timezone.now().astimezone(site.kitchen.zone).date() + timedelta(days=1))
    opened.state = DayState.PUBLISHED
    opened.save()
    return opened


def at(day: HarvestDay, hour: int, minute: int = 0) -> datetime:
    """A time of the day on the kitchen's clock."""
    opens_at = day.opens_at.astimezone(day.kitchen.zone)
    return opens_at.replace(hour=hour, minute=minute)


def put(day: HarvestDay, user: User | None, station: Station = Station.FILL, hour: int = 10) -> Shift:
    """An hour at a station, asked for by hand."""
    return Shift.objects.create(
        harvest_day=day,
        user=user,
        station=station,
        asked_for=True,
        starts_at=at(day, hour),
        ends_at=at(day, hour + 1),
    )


def pages(day: HarvestDay, shift: Shift, offer: SwapOffer | None = None, slug: str = "") -> dict[str, str]:
    """Every address of the rota."""
    values = {
        "kitchen": slug or day.kitchen.slug,
        "day": day.uuid,
        "shift": shift.uuid,
        "offer": offer.uuid if offer else shift.uuid,
    }
    return addresses("rota", urls.urlpatterns, values)


def said(client: Client, address: str, given: Mapping[str, object] | None = None) -> str:
    """The page after a press, as plain text."""
    return unescape(client.post(address, given or {}, follow=True).content.decode())


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("own_slug", [True, False])
def test_another_kitchen_is_not_found(site: Site, day: HarvestDay, name: str, own_slug: bool) -> None:
    elsewhere = make_site()
    shift = put(day, site.member)
    offer = offer_swap(shift=shift, actor=site.member)
    slug = elsewhere.kitchen.slug if own_slug else ""
    stranger = signed_in(elsewhere.lead)
    before = rows()
    assert answers(stranger, pages(day, shift, offer, slug)[name]) == {404}
    assert rows() == before


@pytest.mark.parametrize("name", NAMES)
def test_nobody_gets_in_unsigned(site: Site, day: HarvestDay, name: str) -> None:
    address = pages(day, put(day, None))[name]
    for answer in (Client().get(address), Client().post(address)):
        assert (answer.status_code, answer["Location"]) == (302, f"/sign-in/?next={address}")


def test_a_member_changes_only_what_is_their_own(site: Site, day: HarvestDay) -> None:
    shift, open_one = put(day, site.other), put(day, None)
    member = signed_in(site.member)
    hours = {"station": "fill", "starts": "10:00", "ends": "11:00", "count": "1"}
    before = rows()
    assert member.post(pages(day, shift)["want"], hours).status_code == 403
    assert member.post(pages(day, shift)["hand-over"], {"to": site.member.pk}).status_code == 403
    assert "may not act for another member" in said(member, pages(day, shift)["back"])
    assert "may not ask for more helpers" in said(member, pages(day, open_one)["no-more"])
    assert "not your shift" in said(member, pages(day, shift)["offer"], {"to": "", "wants": ""})
    assert rows() == before


def test_my_page_says_what_i_may_take_and_why_not_the_rest(site: Site, day: HarvestDay) -> None:
    put(day, site.member, Station.PREP, 10)
    put(day, None, Station.FILL, 10)
    put(day, None, Station.FILL, 12)
    put(day, None, Station.CANNER, 12)
    page = unescape(signed_in(site.member).get(pages(day, put(day, None))["mine"]).content.decode())
    assert "is at another station then: prep, 10:00 to 11:00" in page
    assert "is not trained to run a canner" in page
    assert page.count(">Take it<") == 1
    assert page.index("Take Fill, 12:00 to 13:00") < page.index("Not for you")
    assert "Swap or give back Prep, 10:00 to 11:00" in page
    assert CAUTION in page


def test_why_not_is_kept_without_what_was_called_for_it(site: Site, day: HarvestDay) -> None:
    put(day, site.member, Station.PREP, 10)
    put(day, None, Station.FILL, 10)
    [wanted] = my_day(day, site.member, timezone.now()).wanted
    assert wanted.why_not is not None
    assert wanted.why_not.__traceback__ is None


def test_a_shift_is_taken_and_given_back_with_a_press(site: Site, day: HarvestDay) -> None:
    shift = put(day, None)
    member, other = signed_in(site.member), signed_in(site.other)
    assert "It is yours now" in said(member, pages(day, shift)["take"])
    assert f"{site.member} took this shift a moment ago" in said(other, pages(day, shift)["take"])
    assert "Give this shift back" in member.get(pages(day, shift)["shift"]).content.decode()
    assert "Give this shift back" not in other.get(pages(day, shift)["shift"]).content.decode()
    assert "the lead is told" in said(member, pages(day, shift)["back"])
    assert "It is yours now" in said(other, pages(day, shift)["take"])


def test_an_offer_is_made_shown_taken_back_and_accepted(site: Site, day: HarvestDay) -> None:
    mine, theirs = put(day, site.member), put(day, site.other, Station.PREP, 14)
    member, other = signed_in(site.member), signed_in(site.other)
    address = pages(day, mine)
    assert "from the lists" in said(member, address["offer"], {"to": str(site.member.pk), "wants": ""})
    given = {"to": "", "wants": str(theirs.pk)}
    assert f"offered to {site.other} for their 14:00 to 15:00, Prep" in said(member, address["offer"], given)
    assert "offer this shift already" in said(member, address["offer"], given)
    assert "already. Take that offer back" in unescape(member.get(address["shift"]).content.decode())
    first = SwapOffer.objects.get()
    assert "another person's offer" in said(other, pages(day, mine, first)["withdraw"])
    assert "The offer is taken back" in said(member, pages(day, mine, first)["withdraw"])
    assert f"{site.member} took this offer back" in said(other, pages(day, mine, first)["accept"])

    said(member, address["offer"], given)
    offer = SwapOffer.objects.get(state=OfferState.OPEN)
    page = unescape(other.get(address["mine"]).content.decode())
    assert f"from {site.member}, to you; in return for your 14:00 to 15:00, Prep" in page
    assert "Others offer" not in signed_in(site.operator).get(address["mine"]).content.decode()
    assert "the shift is yours" in said(other, pages(day, mine, offer)["accept"])
    assert [Shift.objects.get(pk=one.pk).user for one in (mine, theirs)] == [site.other, site.member]


def test_an_offer_that_is_not_for_me_says_why(site: Site, day: HarvestDay) -> None:
    shift = put(day, site.member, Station.KETTLE)
    Membership.objects.filter(user=site.other).update(under_16=True)
    offer_swap(shift=shift, actor=site.member)
    page = unescape(signed_in(site.other).get(pages(day, shift)["mine"]).content.decode())
    assert "is under 16" in page
    assert ">Accept<" not in page


def test_a_lead_asks_fills_opens_and_asks_no_more(site: Site, day: HarvestDay) -> None:
    lead, shift = signed_in(site.lead), put(day, None)
    address = pages(day, shift)
    wanted = {"station": "prep", "starts": "15:00", "ends": "17:00", "count": "2"}
    told = said(lead, address["want"], wanted)
    assert "2 open shifts added" in told
    assert "Prep, 15:00 to 17:00: two people are missing" in told
    assert "could not be read" in said(lead, address["want"], {**wanted, "count": "many"})
    assert "Ask for several shorter shifts" in said(lead, address["want"], {**wanted, "ends": "19:00"})
    assert "Choose a person" in said(lead, address["hand-over"], {"to": "0"})
    assert f"{site.other} has this shift now" in said(lead, address["hand-over"], {"to": site.other.pk})
    assert f"Take {site.other} off this shift" in lead.get(address["shift"]).content.decode()
    assert "The shift is open now" in said(lead, address["back"])
    assert "Nobody is asked for there" in said(lead, address["no-more"])
    assert "This shift no longer stands" in lead.get(address["shift"]).content.decode()


def test_everybody_reads_the_rota_and_only_a_lead_changes_it(site: Site, day: HarvestDay) -> None:
    shift = put(day, site.other)
    put(day, None)
    lead, member = (
        signed_in(user).get(pages(day, shift)["everybody"]).content.decode()
        for user in (site.lead, site.member)
    )
    for page in (lead, member):
        assert f"{site.other}, <strong" in page
        assert "1 open" in page
        assert "Fill, 10:00 to 11:00: one person is missing" in page
    assert ("Ask for helpers" in lead, "Ask for helpers" in member) == (True, False)
    assert ("Fill the open shift" in lead, "Fill the open shift" in member) == (True, False)


def test_the_day_s_page_says_where_hands_are_missing(site: Site, day: HarvestDay) -> None:
    put(day, None, Station.CANNER)
    page = (
        signed_in(site.lead).get(reverse("harvest:day", args=[site.kitchen.slug, day.uuid])).content.decode()
    )
    assert "Canner, 10:00 to 11:00: one trained person is missing" in page
    assert "Who is where now" in page


def test_hours_given_on_the_rota_lead_back_to_it(site: Site, day: HarvestDay) -> None:
    put(day, site.member)
    hours = day.attendances.get(user=site.member)
    member = signed_in(site.member)
    page = member.get(pages(day, put(day, None))["mine"]).content.decode()
    assert "Give these hours back, and 1 shift<" in page
    back = reverse("harvest:take-back", args=[site.kitchen.slug, day.uuid, hours.pk])
    told = said(member, back, {"page": "rota"})
    assert "Shifts in them that are open now: 1" in told
    assert "My rota" in told
    given = {"page": "rota", "starts": "09:00", "ends": "12:00"}
    assert "from 09:00 to 12:00" in said(
        member, reverse("harvest:help-out", args=[site.kitchen.slug, day.uuid]), given
    )


@pytest.mark.parametrize("name", ["everybody", "shift"])
def test_queries_do_not_grow_with_the_rota(site: Site, day: HarvestDay, name: str) -> None:
    shift = put(day, site.lead)
    lead, counts = signed_in(site.lead), []
    for hour in range(11, 15):
        put(day, site.other, hour=hour)
        lead.get(pages(day, shift)[name])
        with CaptureQueriesContext(connection) as captured:
            assert lead.get(pages(day, shift)[name]).status_code == 200
        counts.append(len(captured))
    assert len(set(counts)) == 1, counts
