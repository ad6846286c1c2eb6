"""The page that books another process: by the reminder's link or signed in, and what it says where nothing fits."""

from __future__ import annotations

from datetime import datetime, timedelta
from html import escape, unescape

import pytest
from django.test import Client
from django.utils import timezone

from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.reminders.links import make_token
from kitchen.reprocess import urls
from kitchen.reprocess.bridge import ways_for
from kitchen.reprocess.models import ReprocessBooking
from kitchen.seals.models import OfferState, ReprocessOffer
from scheduler.caution import CAUTION
from tests.factories.canner_runs import BEANS_OUT, Run, make_beans_out
from tests.factories.shelf import count_seals
from tests.factories.sites import make_site
from tests.factories.walks import addresses, answers, rows, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Two unsealed quarts, counted; it is six in the morning after, an hour before the kitchen opens."""
    run = make_beans_out(make_site())
    run.day.state = "closed"
    run.day.save()
    monkeypatch.setattr(timezone, "now", lambda: morning(run))
    count_seals(run, sealed=5, unsealed=2)
    return run


def morning(run: Run) -> datetime:
    return run.at(BEANS_OUT) + timedelta(hours=19)


def found(run: Run, *, slug: str = "") -> dict[str, str]:
    values = {
        "kitchen": slug or run.site.kitchen.slug,
        "portion": run.portion.uuid,
        "token": make_token(run.portion, run.site.member),
    }
    return addresses("reprocess", urls.urlpatterns, values)


def read(client: Client, address: str) -> str:
    return " ".join(unescape(client.get(address).content.decode()).split())


def way(run: Run) -> str:
    first = ways_for(ReprocessOffer.objects.get(), morning(run)).first
    assert first is not None
    return first.key


@pytest.mark.parametrize("name", ["by-link", "by-member"])
def test_from_the_seal_check_to_a_booked_load(run: Run, name: str) -> None:
    client, address = signed_in(run.site.member), found(run)[name]
    check = address.removesuffix("/").removesuffix("again").rstrip("/") + ("/" if name == "by-member" else "")
    assert f'href="{address}"' in client.get(check).content.decode()
    before = rows()
    told = read(client, address)
    assert rows() == before
    assert "Sun 13 Sep" in told
    assert "It must begin before <strong>Sun 13 Sep 09:57" in told
    assert "not a shorter one" in told
    assert "put on a new lid, and give it the same full process" in told
    assert escape(CAUTION) in client.get(address).content.decode()
    answer = client.post(address, {"way": way(run), "watcher": str(run.site.operator.pk)})
    assert (answer.status_code, answer["Location"]) == (302, address)
    booked = ReprocessBooking.objects.get()
    (portion,) = booked.batch.portions.all()
    assert portion.load.lot_code in read(client, address)
    assert "When and where" in read(client, check)


def test_pressing_twice_books_once(run: Run) -> None:
    client, address = signed_in(run.site.member), found(run)["by-member"]
    asked = {"way": way(run), "watcher": str(run.site.operator.pk)}
    assert [client.post(address, asked).status_code for _ in range(2)] == [302, 422]
    assert ReprocessBooking.objects.count() == 1


@pytest.mark.parametrize("asked", [{}, {"way": "time|x"}, {"way": "day|x", "watcher": "nobody"}])
def test_a_way_that_was_not_offered_is_refused(run: Run, asked: dict[str, str]) -> None:
    member = signed_in(run.site.member)
    before = rows()
    answer = member.post(found(run)["by-member"], asked)
    assert (answer.status_code, rows()) == (422, before)
    assert "That time is gone" in answer.content.decode()


def test_where_nothing_fits_the_page_says_why_and_what_else(run: Run) -> None:
    for canner in Canner.objects.filter(kitchen=run.site.kitchen):
        CannerTime.objects.create(
            kitchen=run.site.kitchen,
            canner=canner,
            starts_at=morning(run),
            ends_at=morning(run) + timedelta(hours=12),
            purpose=Purpose.SLOT,
        )
    told = read(signed_in(run.site.member), found(run)["by-member"])
    assert "No time fits before the deadline" in told
    assert "no canner of the kind this food needs is free" in told
    assert "put it into the refrigerator" in told
    assert "Reprocessing Unsealed Jars" in told
    assert "Book this time" not in told


def test_after_the_deadline_only_the_refrigerator_is_left(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timezone, "now", lambda: morning(run) + timedelta(hours=8))
    told = read(signed_in(run.site.member), found(run)["by-member"])
    assert "It is too late to process these jars again" in told
    assert "Book this time" not in told


def test_who_may_come_here(run: Run) -> None:
    elsewhere = make_site()
    strangers = [signed_in(one) for one in (run.site.other, elsewhere.lead)]
    before = rows()
    for client in strangers:
        assert answers(client, found(run)["by-member"]) == {404}
    assert answers(strangers[1], found(run, slug=elsewhere.kitchen.slug)["by-member"]) == {404}
    assert rows() == before
    assert Client().get(found(run)["by-member"]).status_code == 302
    assert Client().get(found(run)["by-link"])["X-Robots-Tag"] == "noindex"
    assert Client().get(found(run)["by-link"] + "x").status_code in (404, 410)


def test_no_offer_no_page(run: Run) -> None:
    ReprocessOffer.objects.all().delete()
    assert answers(signed_in(run.site.member), found(run)["by-member"]) == {404}


def test_declined_jars_are_not_offered_again(run: Run) -> None:
    client = signed_in(run.site.member)
    client.post(found(run)["by-member"].removesuffix("again/"), {"decide": "decline"})
    assert ReprocessOffer.objects.get().state == OfferState.DECLINED
    told = read(client, found(run)["by-member"])
    assert "Declined: refrigerate and use" in told
    assert "Book this time" not in told
