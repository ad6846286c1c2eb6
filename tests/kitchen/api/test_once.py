"""A request that is sent again, and a change decided on what has passed."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from kitchen.api.base.once import KEPT_FOR
from kitchen.api.models import KeptAnswer
from kitchen.batches.models import Batch, Slot
from kitchen.booking.models import Hold
from kitchen.equipment.models import CannerTime
from tests.factories.furnished import bearer
from tests.factories.sites import Site, declare, make_open_day, make_site

JSON = "application/json"
THREADS = 20


@pytest.fixture
def site(db: None) -> Site:
    return make_site()


@pytest.fixture
def client(site: Site) -> Client:
    return Client(headers=bearer(site.lead, site))


def base(site: Site) -> str:
    return f"/api/v1/kitchens/{site.kitchen.uuid}"


def bring(client: Client, site: Site, key: str | None = "one", **changes: object) -> HttpResponse:
    given = {
        "food": "snap_beans",
        "pack": "raw",
        "jar": "quart",
        "amount": "7",
        "unit": "jars",
        "arrives_at": "2026-12-01T09:00:00-07:00",
        "picks_up_at": "2026-12-01T19:00:00-07:00",
    }
    headers = {} if key is None else {"Idempotency-Key": key}
    return client.post(f"{base(site)}/batches", given | changes, content_type=JSON, headers=headers)  # type: ignore[return-value]  # The test client's own kind of response.


def code(answer: HttpResponse) -> str:
    return str(answer.json()["code"])  # type: ignore[attr-defined]  # Of the test client's.


def test_the_same_again_does_nothing_and_is_answered_alike(client: Client, site: Site) -> None:
    first, again = bring(client, site), bring(client, site)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.content == again.content
    assert (first.headers.get("Idempotency-Replayed"), again.headers["Idempotency-Replayed"]) == (
        None,
        "true",
    )
    assert Batch.objects.count() == 1


def test_a_key_with_another_payload_is_refused(client: Client, site: Site) -> None:
    bring(client, site)
    other = bring(client, site, amount="8")
    assert (other.status_code, code(other)) == (422, "key-used-otherwise")
    assert Batch.objects.count() == 1


def test_a_key_belongs_to_its_person(client: Client, site: Site) -> None:
    bring(client, site)
    assert bring(Client(headers=bearer(site.member, site)), site).status_code == 201
    assert Batch.objects.count() == 2


@pytest.mark.parametrize(
    ("key", "why"), [(None, "key-missing"), ("", "key-unreadable"), ("a" * 201, "key-unreadable")]
)
def test_a_booking_needs_a_key(client: Client, site: Site, key: str | None, why: str) -> None:
    answer = bring(client, site, key)
    assert (answer.status_code, code(answer)) == (400, why)
    assert not Batch.objects.exists()


def test_what_was_refused_may_be_tried_again_with_its_key(client: Client, site: Site) -> None:
    assert bring(client, site, pack="hot", jar="half_gallon").status_code == 422
    assert not KeptAnswer.objects.exists()
    assert bring(client, site).status_code == 201


def test_answers_are_not_kept_for_ever(client: Client, site: Site) -> None:
    bring(client, site)
    KeptAnswer.objects.update(kept_at=timezone.now() - KEPT_FOR - timedelta(seconds=1))
    bring(client, site, "two")
    assert [one.key for one in KeptAnswer.objects.all()] == ["two"]


def test_a_change_names_what_it_was_decided_on(client: Client, site: Site) -> None:
    batch = declare(site, make_open_day(site))
    path = f"{base(site)}/batches/{batch.uuid}"
    read = client.get(path)
    assert code(client.patch(path, {"jars": 6}, content_type=JSON)) == "version-missing"  # type: ignore[arg-type]
    headers = {"If-Match": read.headers["ETag"]}
    first = client.patch(path, {"jars": 6}, content_type=JSON, headers=headers)
    assert (first.status_code, first.json()["jars"]) == (200, 6)
    second = client.patch(path, {"jars": 5}, content_type=JSON, headers=headers)
    assert (second.status_code, second.json()["code"]) == (412, "version-passed")
    batch.refresh_from_db()
    assert batch.jars == 6
    third = client.patch(path, {"jars": 5}, content_type=JSON, headers={"If-Match": first.headers["ETag"]})
    assert third.status_code == 200
    assert client.delete(path, headers={"If-Match": first.headers["ETag"]}).status_code == 412
    assert client.delete(path, headers={"If-Match": third.headers["ETag"]}).status_code == 204


def test_what_is_known_already_is_not_told_again(client: Client, site: Site) -> None:
    path = f"{base(site)}/days/{make_open_day(site).uuid}"
    etag = client.get(path).headers["ETag"]
    assert not etag.startswith("W/")
    answer = client.get(path, headers={"If-None-Match": etag})
    assert (answer.status_code, answer.content) == (304, b"")


def at_once(ask: Callable[[int], HttpResponse]) -> list[HttpResponse]:
    """So many threads that ask at the same moment."""
    start = Barrier(THREADS)

    def run(number: int) -> HttpResponse:
        start.wait(timeout=60)
        try:
            return ask(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(run, range(THREADS)))


def chosen(client: Client, site: Site) -> dict[str, Any]:
    """The first time that fits, as it is sent back."""
    tomorrow = (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()
    query = f"food=snap_beans&pack=raw&jar=quart&jars=7&since={tomorrow}"
    first = client.get(f"{base(site)}/times?{query}").json()["times"][0]
    moments = {name: first[name] for name in ("arrives_at", "starts_at", "ends_at")}
    what = {"food": "snap_beans", "pack": "raw", "jar": "quart", "jars": 7}
    return {**what, "canner": first["canner"]["id"], **moments}


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_key_that_is_in_use_is_not_waited_for_for_ever(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another connection holds the key in a transaction that does not end."""
    monkeypatch.setattr("kitchen.api.base.once._PATIENCE_SECONDS", 1)
    headers, came = bearer(site.lead, site), []

    def bring_meanwhile() -> None:
        came.append(bring(Client(headers=headers), site))
        connection.close()

    with transaction.atomic():
        KeptAnswer.objects.create(user=site.lead, key="one", fingerprint="0")
        other = Thread(target=bring_meanwhile)
        other.start()
        other.join(timeout=60)
        transaction.set_rollback(True)
    assert [(one.status_code, code(one)) for one in came] == [(409, "key-in-use")]
    assert bring(Client(headers=headers), site).status_code == 201


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_twenty_at_once_with_one_key_book_once(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    # However slow the machine: the first to come may have to load the planner.
    monkeypatch.setattr("kitchen.api.base.once._PATIENCE_SECONDS", 60)
    headers = bearer(site.lead, site)
    wanted = chosen(Client(headers=headers), site)

    def hold(_: int) -> HttpResponse:
        keyed = {**headers, "Idempotency-Key": "hold"}
        return Client().post(f"{base(site)}/holds", wanted, content_type=JSON, headers=keyed)  # type: ignore[return-value]

    held = at_once(hold)
    assert {one.status_code for one in held} == {201}
    assert len({one.content for one in held}) == 1
    assert Hold.objects.count() == 1
    name = Hold.objects.get().uuid

    def book(_: int) -> HttpResponse:
        keyed = {**headers, "Idempotency-Key": "book"}
        return Client().post(f"{base(site)}/slots", {"hold": str(name)}, content_type=JSON, headers=keyed)  # type: ignore[return-value]

    booked = at_once(book)
    assert {one.status_code for one in booked} == {201}
    assert len({one.content for one in booked}) == 1
    assert Slot.objects.count() == CannerTime.objects.filter(occupies=True).count() == 1


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_twenty_changes_decided_on_one_version_change_once(site: Site) -> None:
    batch = declare(site, make_open_day(site, day=date(2026, 12, 5)))
    headers = bearer(site.lead, site)
    path = f"{base(site)}/batches/{batch.uuid}"
    etag = Client(headers=headers).get(path).headers["ETag"]

    def change(number: int) -> HttpResponse:
        sent = {**headers, "If-Match": etag}
        return Client().patch(path, {"jars": 10 + number}, content_type=JSON, headers=sent)  # type: ignore[return-value]

    came = sorted(one.status_code for one in at_once(change))
    assert came == [200, *[412] * (THREADS - 1)]
