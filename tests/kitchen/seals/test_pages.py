"""The seal check's addresses: signed in or by a link, and what is refused without a trace (rule S11)."""

from __future__ import annotations

import time
from datetime import datetime, timedelta
from html import escape

import pytest
from django.test import Client
from django.test.utils import freeze_time
from django.utils import timezone

from kitchen.members.models import Membership, User
from kitchen.planning.models import LoadState
from kitchen.reminders.links import LINK_LIFE, make_token
from kitchen.seals import urls
from kitchen.seals.models import SealCheck
from scheduler.caution import CAUTION
from tests.factories.canner_runs import BEANS_OUT, Run, make_beans_out
from tests.factories.sites import make_site
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db

ALL_SEALED = {"sealed": "7", "unsealed": "0", "broken": "0"}
LINK, OWN = (str(one.name) for one in urls.urlpatterns)


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Seven jars that have stood for 12 hours to the second; the clock stands still."""
    run = make_beans_out(make_site())
    stand_still(monkeypatch, ready(run))
    return run


def ready(run: Run) -> datetime:
    return run.at(BEANS_OUT) + timedelta(hours=12)


def stand_still(monkeypatch: pytest.MonkeyPatch, at: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: at)


def pages(run: Run, *, slug: str = "", token: str = "", holder: User | None = None) -> dict[str, str]:
    """Both addresses of the portion, the link in the member's name unless told otherwise."""
    values = {
        "kitchen": slug or run.site.kitchen.slug,
        "portion": run.portion.uuid,
        "token": token or make_token(run.portion, holder or run.site.member),
    }
    return addresses("seals", urls.urlpatterns, values)


def counts() -> list[tuple[int, int, int]]:
    return list(SealCheck.objects.order_by("pk").values_list("sealed", "unsealed", "broken"))


@pytest.mark.parametrize("own_slug", [False, True], ids=["their kitchen", "own kitchen"])
def test_another_kitchen_is_not_found(run: Run, own_slug: bool) -> None:
    elsewhere = make_site()
    address = pages(run, slug=elsewhere.kitchen.slug if own_slug else "")[OWN]
    stranger = signed_in(elsewhere.lead)
    before = rows()
    assert answers(stranger, address) == {404}
    assert stranger.post(address, ALL_SEALED).status_code == 404
    assert rows() == before


def test_another_members_jars_are_not_found(run: Run) -> None:
    other, address = signed_in(run.site.other), pages(run)[OWN]
    before = rows()
    assert answers(other, address) == {404}
    assert other.post(address, ALL_SEALED).status_code == 404
    assert rows() == before


def test_unsigned_only_the_link_opens(run: Run) -> None:
    found, client = pages(run), Client()
    before = rows()
    for answer in (client.get(found[OWN]), client.post(found[OWN], ALL_SEALED)):
        assert (answer.status_code, answer["Location"]) == (302, f"/sign-in/?next={found[OWN]}")
    assert rows() == before
    assert client.get(found[LINK]).status_code == 200


@pytest.mark.parametrize("name", [LINK, OWN])
def test_opening_the_form_changes_nothing(run: Run, name: str) -> None:
    client, address = signed_in(run.site.member), pages(run)[name]
    before = rows()
    for asked in (client.get, client.head):
        assert asked(address, ALL_SEALED).status_code == 200
    assert rows() == before


def test_a_link_counts_in_the_name_of_its_person(run: Run) -> None:
    Client().post(pages(run)[LINK], {"sealed": "5", "unsealed": "1", "broken": "1"})
    check = SealCheck.objects.get()
    assert (check.portion, check.checked_by, check.checked_at) == (run.portion, run.site.member, ready(run))
    assert (counts(), run.fresh().state) == ([(5, 1, 1)], LoadState.CLOSED)


@pytest.mark.parametrize("name", [LINK, OWN])
def test_no_count_before_twelve_hours(run: Run, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    stand_still(monkeypatch, ready(run) - timedelta(seconds=1))
    client, address = signed_in(run.site.member), pages(run)[name]
    before = rows()
    answer = client.post(address, ALL_SEALED)
    assert (answer.status_code, rows()) == (422, before)
    assert "have not stood for 12 hours" in answer.content.decode()
    stand_still(monkeypatch, ready(run))
    client.post(address, ALL_SEALED)
    assert counts() == [(7, 0, 0)]


@pytest.mark.parametrize("name", [LINK, OWN])
@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("6", "0", "0"), "6 jars are counted, and 7 went in."),
        (("7", "1", "0"), "8 jars are counted, and 7 went in."),
        (("8", "-1", "0"), "greater than or equal to 0"),
        (("seven", "0", "0"), "Enter a whole number."),
        (("", "0", "0"), "This field is required."),
    ],
)
def test_counts_that_cannot_be_are_refused(
    run: Run, name: str, given: tuple[str, str, str], told: str
) -> None:
    client, address = signed_in(run.site.member), pages(run)[name]
    before = rows()
    answer = client.post(address, dict(zip(("sealed", "unsealed", "broken"), given, strict=True)))
    page = answer.content.decode()
    assert (answer.status_code, rows()) == (422, before)
    assert told in page
    assert not given[0] or f'value="{given[0]}"' in page


@pytest.mark.parametrize("name", [LINK, OWN])
def test_a_second_count_is_a_correction(run: Run, name: str) -> None:
    client, address = signed_in(run.site.member), pages(run)[name]
    client.post(address, ALL_SEALED)
    before = rows()
    refused = client.post(address, {"sealed": "6", "unsealed": "0", "broken": "1"})
    assert (refused.status_code, rows()) == (422, before)
    client.post(address, {"sealed": "6", "unsealed": "0", "broken": "1", "correct": "1"})
    first, second = SealCheck.objects.order_by("pk")
    assert (second.corrects, counts()) == (first, [(7, 0, 0), (6, 0, 1)])


def gone(address: str, words: str) -> None:
    """The page says that the link is no good, and counting through it writes nothing."""
    before = rows()
    for answer in (Client().get(address), Client().post(address, ALL_SEALED)):
        assert answer.status_code == 410
        assert words in answer.content.decode()
    assert rows() == before


def test_a_forged_link_is_gone(run: Run) -> None:
    token = make_token(run.portion, run.site.member)
    body, rest = token.split(":", 1)
    other = make_token(run.portion, run.site.operator).split(":", 1)[0]
    for forged in (f"{other}:{rest}", f"{body}x:{rest}", body, "x"):
        gone(pages(run, token=forged)[LINK], "This link is not whole.")


def test_a_link_is_gone_after_its_week(run: Run) -> None:
    with freeze_time(time.time() - LINK_LIFE.total_seconds() - 60):
        token = make_token(run.portion, run.site.member)
    gone(pages(run, token=token)[LINK], "This link has run out.")


def test_a_link_is_gone_when_its_person_has_left(run: Run) -> None:
    Membership.objects.filter(user=run.site.member).update(left_at=ready(run))
    gone(pages(run)[LINK], "not this person")


def test_the_caution_stands_on_the_form_and_on_its_answers(run: Run) -> None:
    client, found = signed_in(run.site.member), pages(run)
    for address in found.values():
        assert escape(CAUTION) in client.get(address).content.decode()
    assert escape(CAUTION) in client.post(found[OWN], {**ALL_SEALED, "sealed": "6"}).content.decode()
    assert escape(CAUTION) in client.post(found[OWN], ALL_SEALED, follow=True).content.decode()
