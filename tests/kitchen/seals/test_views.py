"""The seal check's page: by the signed link of a reminder, and by whoever is signed in."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.members.actions import end_membership
from kitchen.members.models import User
from kitchen.planning.models import Load, LoadState
from kitchen.reminders.links import PATH, make_token
from kitchen.seals.models import OfferState, ReprocessOffer, SealCheck
from scheduler.caution import CAUTION
from tests.factories.canner_runs import Run, make_beans_out
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db

ALL_SEALED = {"sealed": 7, "unsealed": 0, "broken": 0}
TWO_UNSEALED = {"sealed": 4, "unsealed": 2, "broken": 1}


@pytest.fixture
def run() -> Run:
    """Jars that came out 13 hours ago: there is time to test them, and to process them again."""
    return out_for(make_beans_out(make_site()), timedelta(hours=13))


def out_for(run: Run, stood: timedelta) -> Run:
    out = timezone.now() - stood
    # The process ended an hour before the jars were out: cool-down, rest and unloading.
    Load.objects.filter(pk=run.load.pk).update(jars_out_at=out, process_ended_at=out - timedelta(hours=1))
    return run


def link(run: Run, user: User | None = None) -> str:
    return f"{PATH}{make_token(run.portion, user or run.site.member)}"


def own(run: Run) -> str:
    return reverse("seals:check", args=[run.site.kitchen.slug, run.portion.uuid])


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def test_the_link_opens_the_form_without_signing_in(run: Run) -> None:
    answer = Client().get(link(run))
    page = answer.content.decode()
    assert answer.status_code == 200
    for words in ("Press the middle of the lid", "Tap the lid", "eye level", "Write it down"):
        assert words in page
    assert CAUTION in page.replace("&#x27;", "'")
    assert answer.headers["X-Robots-Tag"] == "noindex"
    assert not SealCheck.objects.exists()


def test_counting_by_link_closes_the_load_in_the_members_name(run: Run) -> None:
    answer = Client().post(link(run), ALL_SEALED, follow=True)
    assert "7 sealed, 0 unsealed, 0 broken" in answer.content.decode()
    assert SealCheck.objects.get().checked_by == run.site.member
    assert run.fresh().state == LoadState.CLOSED


def test_unsealed_jars_get_their_deadline_and_a_choice(run: Run) -> None:
    page = Client().post(link(run), TWO_UNSEALED, follow=True).content.decode()
    deadline = run.fresh().process_ended_at
    assert deadline is not None
    until = (deadline + timedelta(hours=24)).astimezone(run.site.kitchen.zone)
    assert f"2 jars can be processed again, starting before {until:%a %-d %b %H:%M}" in page
    assert "Throw broken jars out" in page
    answer = Client().post(link(run), {"decide": "accept"})
    assert answer["Location"] == f"{link(run)}/again"
    assert ReprocessOffer.objects.get().state == OfferState.OPEN


def test_declined_jars_are_to_be_refrigerated(run: Run) -> None:
    Client().post(link(run), TWO_UNSEALED)
    page = Client().post(link(run), {"decide": "decline"}, follow=True).content.decode()
    assert "Refrigerate and use." in page
    assert ReprocessOffer.objects.get().state == OfferState.DECLINED


def test_after_the_deadline_only_the_refrigerator_is_left() -> None:
    run = out_for(make_beans_out(make_site()), timedelta(hours=23, minutes=30))
    assert "too late to process a jar again" in Client().get(link(run)).content.decode()
    page = Client().post(link(run), TWO_UNSEALED, follow=True).content.decode()
    assert "Refrigerate and use." in page
    assert "Process again" not in page
    assert not ReprocessOffer.objects.exists()


def test_before_twelve_hours_there_is_no_form_and_no_count() -> None:
    run = out_for(make_beans_out(make_site()), timedelta(hours=11))
    page = Client().get(link(run)).content.decode()
    assert "have not stood for 12 hours" in page
    assert "Write it down" not in page
    answer = Client().post(link(run), ALL_SEALED)
    assert answer.status_code == 422
    assert not SealCheck.objects.exists()


def test_counts_that_do_not_add_up_are_refused_and_kept_in_the_form(run: Run) -> None:
    answer = Client().post(link(run), {"sealed": 5, "unsealed": 1, "broken": 0})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "6 jars are counted, and 7 went in." in page
    assert 'name="sealed" value="5"' in page
    assert not SealCheck.objects.exists()


def test_a_miscount_is_corrected_and_both_counts_stay(run: Run) -> None:
    client = Client()
    client.post(link(run), ALL_SEALED)
    assert "Both counts stay on the record" in client.get(f"{link(run)}?correct=1").content.decode()
    refused = client.post(link(run), {"sealed": 6, "unsealed": 1, "broken": 0})
    assert "These jars are counted" in refused.content.decode()
    client.post(link(run), {"sealed": 6, "unsealed": 1, "broken": 0, "correct": "on"})
    assert list(SealCheck.objects.order_by("pk").values_list("sealed", flat=True)) == [7, 6]


@pytest.mark.parametrize("token", ["nonsense", "a:b:c"])
def test_a_broken_link_says_what_to_do(run: Run, token: str) -> None:
    answer = Client().get(f"{PATH}{token}")
    assert answer.status_code == 410
    assert "Open it from the message again." in answer.content.decode()


def test_a_changed_link_counts_nothing(run: Run) -> None:
    answer = Client().post(f"{link(run)}x", ALL_SEALED)
    assert answer.status_code == 410
    assert not SealCheck.objects.exists()


def test_a_link_ends_with_the_membership(run: Run) -> None:
    address = link(run)
    end_membership(membership=run.site.kitchen.memberships.get(user=run.site.member), actor=run.site.lead)
    assert Client().get(address).status_code == 410


def test_members_see_only_their_own_jars_and_operators_all(run: Run) -> None:
    assert signed_in(run.site.member).get(own(run)).status_code == 200
    assert signed_in(run.site.operator).get(own(run)).status_code == 200
    assert signed_in(run.site.other).get(own(run)).status_code == 404
    assert signed_in(make_site().lead).get(own(run)).status_code == 404
    assert Client().get(own(run)).status_code == 302
