"""A list asks the database as often for many rows as for one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kitchen.batches.models import Slot
from kitchen.equipment.models import CannerTime, GaugeCheck, Purpose
from kitchen.members.models import Membership, User
from kitchen.planning.models import PlanJob
from kitchen.reminders.models import Kind, Notice, Reminder
from kitchen.rota.models import Attendance, Shift, SwapOffer
from tests.factories.furnished import Furnished, bearer, furnish
from tests.factories.sites import declare, make_open_day
from tests.kitchen.api.operations import address, operations, schema

pytestmark = pytest.mark.django_db

MOST = 14
"""More than any list needs, whoever asks."""


def add_more(at: Furnished) -> None:
    """Three more of everything that is listed."""
    site, now = at.site, timezone.now()
    for number in range(3):
        user = User.objects.create_user(f"more{number}@yard.example", f"More {number}")
        Membership.objects.create(kitchen=site.kitchen, user=user)
        day = make_open_day(site, day=at.day.date + timedelta(days=10 + number))
        declare(site, day)
        PlanJob.objects.create(harvest_day=at.day, state="finished", day_version=0)
        start = at.day.opens_at + timedelta(days=20 + number)
        time = CannerTime.objects.create(
            kitchen=site.kitchen,
            canner=site.weighted,
            starts_at=start,
            ends_at=start + timedelta(hours=1),
            purpose=Purpose.SLOT,
        )
        Slot.objects.create(kitchen=site.kitchen, member=site.lead, canner_time=time)
        GaugeCheck.objects.create(
            canner=site.dial, checked_on=day.date, error_psi=0, checked_by="Extension office"
        )
        shift = Shift.objects.create(
            harvest_day=day,
            user=site.member,
            station="prep",
            starts_at=day.opens_at,
            ends_at=day.closes_at,
            load=at.run.load,
        )
        SwapOffer.objects.create(shift=shift, shift_sequence=0, offered_by=site.member, to=user)
        for seconds in (0, 1):
            reminder = Reminder.objects.create(
                kitchen=site.kitchen,
                recipient=site.lead,
                due_at=now,
                next_attempt_at=now + timedelta(seconds=seconds),
                kind=Kind.ROTA,
                news={"title": "A shift is open", "lines": [], "path": "/"},
            )
            Notice.objects.create(reminder=reminder, recipient=site.lead, created_at=now)
        load = at.waiting
        copy = type(load).objects.create(
            harvest_day=day,
            canner=load.canner,
            number=1,
            lot_code=f"{load.lot_code}-{number}",
            method=load.method,
            process_minutes=20,
        )
        copy.portions.create(batch=declare(site, day), jars=7, process_key="x", headspace_in=0.5)
        assert Attendance.objects.filter(harvest_day=day).count() == 4


def asked(client: Client, path: str) -> int:
    with CaptureQueriesContext(connection) as queries:
        assert client.get(path).status_code == 200
    return len(queries)


def test_every_list_asks_as_often_for_many_as_for_few() -> None:
    at = furnish()
    client = Client(headers=bearer(at.site.lead, at.site))
    lists = {
        one.name: address(one, at)
        for one in operations()
        if one.method == "get"
        and "results" in schema()["components"]["schemas"].get(_component(one.path), {}).get("properties", {})
    }
    assert len(lists) > 12
    for path in lists.values():
        client.get(path)  # What is read once for a process, and that the token is in use.
    before = {name: asked(client, path) for name, path in lists.items()}
    add_more(at)
    after = {name: asked(client, path) for name, path in lists.items()}
    assert after == before
    assert max(after.values()) <= MOST


def _component(path: str) -> str:
    told = schema()["paths"][path]["get"]["responses"]["200"].get("content", {}).get("application/json", {})
    return str(told.get("schema", {}).get("$ref", "")).rpartition("/")[2]


def test_pages_lead_from_one_to_the_next() -> None:
    at = furnish()
    client = Client(headers=bearer(at.site.lead, at.site))
    path = f"/api/v1/kitchens/{at.named['kitchen']}/hours?page_size=3"
    seen: list[int] = []
    while path:
        told = client.get(path).json()
        assert len(told["results"]) <= 3
        seen += [one["id"] for one in told["results"]]
        path = told["next"]
    assert sorted(seen) == sorted(
        Attendance.objects.filter(harvest_day__kitchen=at.site.kitchen).values_list("pk", flat=True)
    )
    assert len(seen) == len(set(seen)) == 8
