"""Canner time from a program: searched, held, booked, moved, given back."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import count
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from kitchen.api.models import Scope
from kitchen.batches.models import Batch, Slot
from kitchen.booking.models import Hold
from kitchen.equipment.models import CannerTime
from tests.factories.furnished import bearer
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db

WHAT = {"food": "snap_beans", "pack": "raw", "jar": "quart", "jars": 7}
_keys = count(1)


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def program(site: Site) -> Client:
    """A member's program that may book, and nothing else."""
    return Client(headers=bearer(site.member, site, Scope.BOOK))


def base(site: Site) -> str:
    return f"/api/v1/kitchens/{site.kitchen.uuid}"


def tomorrow(site: Site) -> date:
    return (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=1)).date()


def times(program: Client, site: Site) -> list[dict[str, Any]]:
    asked = {name: str(value) for name, value in WHAT.items()} | {"since": tomorrow(site).isoformat()}
    told = program.get(f"{base(site)}/times", asked).json()
    assert "extension office" in told["caution"]
    found: list[dict[str, Any]] = told["times"]
    return found


def send(program: Client, path: str, sent: dict[str, Any]) -> Any:
    headers = {"Idempotency-Key": f"key {next(_keys)}"}
    return program.post(path, sent, content_type="application/json", headers=headers)


def hold(program: Client, site: Site, offered: dict[str, Any], **more: object) -> Any:
    moments = {name: offered[name] for name in ("arrives_at", "starts_at", "ends_at")}
    sent = {**WHAT, **moments, "canner": offered["canner"]["id"], **more}
    return send(program, f"{base(site)}/holds", sent)


def book(program: Client, site: Site, held: dict[str, Any]) -> Any:
    sent = {"hold": held["id"], "watcher": str(site.operator.uuid)}
    return send(program, f"{base(site)}/slots", sent)


def test_a_time_is_found_held_and_booked(program: Client, site: Site) -> None:
    offered = times(program, site)[0]
    assert [phase["kind"] for phase in offered["loads"][0]["phases"]][:2] == ["loading", "heat-up"]
    held = hold(program, site, offered).json()
    assert held["held_until"] > timezone.now().isoformat()
    slot = book(program, site, held)
    assert slot.status_code == 201
    assert (slot.json()["starts_at"], slot.json()["canner"]) == (offered["starts_at"], offered["canner"])
    assert Slot.objects.get().member == site.member
    assert Batch.objects.get().jars == 7


def test_a_member_without_training_names_who_watches(program: Client, site: Site) -> None:
    held = hold(program, site, times(program, site)[0]).json()
    alone = send(program, f"{base(site)}/slots", {"hold": held["id"]})
    assert (alone.status_code, alone.json()["code"]) == (403, "not-allowed")
    assert "rule S9" in alone.json()["detail"]
    assert not Slot.objects.exists()


def test_a_time_that_is_taken_is_refused_with_what_is_in_the_way(program: Client, site: Site) -> None:
    offered = times(program, site)[0]
    assert hold(program, site, offered).status_code == 201
    other = hold(Client(headers=bearer(site.other, site)), site, offered)
    assert (other.status_code, other.json()["code"]) == (409, "slot-taken")
    assert other.json()["clashes"] == [[offered["starts_at"], offered["ends_at"]]]
    assert Hold.objects.count() == 1


def test_a_booking_is_moved(program: Client, site: Site) -> None:
    first, *_, last = times(program, site)
    slot = book(program, site, hold(program, site, first).json()).json()
    moved = book(program, site, hold(program, site, last, replaces=slot["id"]).json()).json()
    assert (moved["id"], moved["starts_at"]) == (slot["id"], last["starts_at"])
    assert moved["sequence"] == slot["sequence"] + 1
    assert CannerTime.objects.filter(occupies=True).count() == 1


def test_another_members_booking_cannot_be_replaced(program: Client, site: Site) -> None:
    first, *_, last = times(program, site)
    slot = book(program, site, hold(program, site, first).json()).json()
    thief = hold(Client(headers=bearer(site.other, site)), site, last, replaces=slot["id"])
    assert [one["pointer"] for one in thief.json()["errors"]] == ["#/replaces"]
    lead = hold(
        Client(headers=bearer(site.lead, site)), site, last, replaces=slot["id"], member=str(site.member.uuid)
    )
    assert lead.status_code == 201


def test_a_booking_is_given_back_as_it_was_read(program: Client, site: Site) -> None:
    slot = book(program, site, hold(program, site, times(program, site)[0]).json()).json()
    path = f"{base(site)}/slots/{slot['id']}"
    etag = program.get(path).headers["ETag"]
    assert program.delete(path, headers={"If-Match": '"something else"'}).status_code == 412
    assert program.delete(path, headers={"If-Match": etag}).status_code == 204
    assert program.get(path).json()["state"] == "cancelled"
    assert not CannerTime.objects.filter(occupies=True).exists()
    again = program.delete(path, headers={"If-Match": "*"})
    assert (again.status_code, again.json()["code"]) == (409, "already-decided")
