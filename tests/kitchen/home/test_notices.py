"""Notices are written once while they say the same: what changes in the jars or is read shows at once."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from kitchen.batches.models import Batch
from kitchen.planning.models import Load, LoadPortion
from kitchen.reminders.models import Kind, Notice, Reminder
from tests.factories.furnished import Furnished, furnish
from tests.factories.walks import signed_in, without_secrets

pytestmark = pytest.mark.django_db


@pytest.fixture
def furnished() -> Furnished:
    """One unread notice of the member, to check the seals of the run's jars."""
    made = furnish()
    Notice.objects.all().delete()
    due = made.run.at(117) + timedelta(hours=24)
    reminder, _ = Reminder.objects.update_or_create(
        kitchen=made.site.kitchen,
        portion=made.run.portion,
        recipient=made.site.member,
        kind=Kind.SEAL_CHECK,
        defaults={"due_at": due},
    )
    Notice.objects.create(reminder=reminder, recipient=made.site.member, created_at=due)
    return made


def page(furnished: Furnished) -> str:
    address = reverse("home:notices", args=[furnished.site.kitchen.slug])
    return without_secrets(signed_in(furnished.site.member).get(address).content.decode())


def test_each_thing_that_changes_shows_at_once(furnished: Furnished) -> None:
    batch, load = Batch.objects.filter(pk=furnished.run.portion.batch_id), Load.objects.all()
    changes: list[tuple[object, dict[str, object], str]] = [
        (batch, {"food_name": "Damsons"}, "Damsons"),
        (LoadPortion.objects.all(), {"jars": 3}, "3 quart jars"),
        (load.filter(pk=furnished.run.load.pk), {"lot_code": "TY-PLUM-1"}, "TY-PLUM-1"),
        (load, {"on_hold": True, "deviation": "A jar broke"}, "On hold"),
    ]
    for rows, changed, shown in changes:
        before = page(furnished)
        assert before == page(furnished)
        assert shown not in before
        rows.update(**changed)  # type: ignore[attr-defined]  # Rows of several tables.
        assert shown in page(furnished), changed


def test_what_was_read_is_put_away_at_once_by_a_press_of_the_page(furnished: Furnished) -> None:
    client = signed_in(furnished.site.member)
    client.handler.enforce_csrf_checks = True
    address = reverse("home:notices", args=[furnished.site.kitchen.slug])
    for _ in range(2):
        text = client.get(address).content.decode()
    press = re.search(r'<form method="post" action="([^"]+/seen/)">.*?value="([^"]+)"', text)
    assert press is not None
    assert client.post(press[1]).status_code == 403
    assert client.post(press[1], {"csrfmiddlewaretoken": press[2]}).status_code == 302
    assert "I have read this" not in client.get(address).content.decode()
