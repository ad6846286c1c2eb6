"""What is refused, as a program reads it."""

from __future__ import annotations

import inspect
from typing import Any

import pytest
from django.test import Client

from kitchen import errors
from kitchen.api.base.problems import STATUS
from kitchen.errors import KitchenError
from tests.factories.furnished import bearer
from tests.factories.sites import Site, make_open_day, make_site

pytestmark = pytest.mark.django_db

# Never an answer here: what stops the program from starting, what concerns workers alone, and passwords on pages.
NOT_OF_THE_API = {
    errors.BadBackup,
    errors.BadConfiguration,
    errors.ChildKeepsDying,
    errors.NoAnswer,
    errors.NotDelivered,
    errors.TaskTooFarAhead,
    errors.TooManyAttempts,
}


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def client(site: Site) -> Client:
    return Client(headers=bearer(site.lead, site))


def base(site: Site) -> str:
    return f"/api/v1/kitchens/{site.kitchen.uuid}"


def batch(site: Site, **changes: object) -> dict[str, object]:
    given = {
        "food": "snap_beans",
        "pack": "raw",
        "jar": "quart",
        "amount": "7",
        "unit": "jars",
        "arrives_at": "2026-12-01T09:00:00-07:00",
        "picks_up_at": "2026-12-01T19:00:00-07:00",
    }
    return given | changes


def declared(client: Client, site: Site, **changes: object) -> tuple[int, dict[str, Any]]:
    answer = client.post(
        f"{base(site)}/batches",
        batch(site, **changes),
        content_type="application/json",
        headers={"Idempotency-Key": "one"},
    )
    return answer.status_code, answer.json()


def test_every_refusal_of_the_kitchen_has_a_status() -> None:
    every = {
        one for _, one in inspect.getmembers(errors, inspect.isclass) if issubclass(one, KitchenError)
    } - {KitchenError}
    assert set(STATUS) == every - NOT_OF_THE_API


def test_a_refusal_of_the_kitchen_in_full(client: Client, site: Site) -> None:
    status, told = declared(client, site, pack="hot", jar="half_gallon")
    assert status == told["status"] == 422
    assert told["type"] == "http://localhost:8000/api/#bad-intake"
    assert (told["title"], told["code"]) == ("Bad intake", "bad-intake")
    assert told["instance"] == f"{base(site)}/batches"
    assert told["errors"] == []
    assert all("jars" in line for line in told["published"])
    assert len(told["published"]) > 1


def test_what_cannot_be_read_is_named_by_its_pointer(client: Client, site: Site) -> None:
    status, told = declared(client, site, jar="barrel", arrives_at="2026-12-01T09:00:00")
    assert status == 400
    found = {(one["pointer"], one["code"]) for one in told["errors"]}
    assert found == {("#/jar", "invalid_choice"), ("#/arrives_at", "naive")}


@pytest.mark.parametrize(
    ("moment", "code"),
    [
        ("2026-12-01T09:00:00", "naive"),
        ("2026-12-01", "naive"),
        ("0001-01-01T00:00:00Z", "range"),
        ("9999-12-31T23:59:59-12:00", "range"),
        ("yesterday", "invalid"),
    ],
)
def test_a_time_without_its_zone_is_refused(client: Client, site: Site, moment: str, code: str) -> None:
    _, told = declared(client, site, picks_up_at=moment)
    assert told["errors"][0]["pointer"] == "#/picks_up_at"
    assert told["errors"][0]["code"] == code


def test_a_time_is_told_in_utc(client: Client, site: Site) -> None:
    status, told = declared(client, site)
    assert (status, told["arrives_at"]) == (201, "2026-12-01T16:00:00Z")


def test_problems_have_their_media_type(client: Client, site: Site) -> None:
    for answer in (
        client.get(f"{base(site)}/days?since=never"),
        client.get("/api/v1/nothing"),
        client.put(base(site)),
        Client().get(base(site)),
        client.post(f"{base(site)}/batches", "{", content_type="application/json"),
        client.post(f"{base(site)}/batches", "a=b", content_type="text/plain"),
    ):
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert answer.status_code == answer.json()["status"]


@pytest.mark.parametrize("rest", ["", "nothing", "kitchens/%0A", "kitchens/%00", "kitchens/%E2%80%A8/days"])
def test_every_address_below_is_answered_with_a_problem(client: Client, rest: str) -> None:
    for answer in (client.get(f"/api/v1/{rest}"), client.post(f"/api/v1/{rest}")):
        assert (answer.status_code, answer.headers["Content-Type"]) == (404, "application/problem+json")


def test_a_wrong_filter_is_named(client: Client, site: Site) -> None:
    told = client.get(f"{base(site)}/days?since=never").json()
    assert [one["pointer"] for one in told["errors"]] == ["?since"]


def test_what_stands_in_the_way_is_a_conflict(client: Client, site: Site) -> None:
    path = f"{base(site)}/days/{make_open_day(site).uuid}/plan-jobs"
    first, second = (client.post(path, {}, content_type="application/json") for _ in range(2))
    assert (first.status_code, second.status_code) == (201, 409)
    assert second.json()["code"] == "planning-under-way"


def test_whoever_is_not_signed_in_is_told_how(site: Site) -> None:
    answer = Client().get(base(site))
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, 'Bearer realm="kitchen"')
    assert answer.json()["code"] == "not-signed-in"


def test_words_follow_the_reader_and_codes_do_not(client: Client, site: Site) -> None:
    answer = client.post(
        f"{base(site)}/batches",
        batch(site, picks_up_at="2026-11-30T09:00:00Z"),
        content_type="application/json",
        headers={"Idempotency-Key": "one", "Accept-Language": "es"},
    )
    told = answer.json()
    assert told["code"] == "bad-intake"
    assert told["detail"].startswith("Los frascos")
