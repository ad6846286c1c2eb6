"""What is booked and waited for is written once while it is as it is, and never longer."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.models import Slot
from kitchen.booking.models import Waiting
from kitchen.equipment.models import Canner, CannerTime
from kitchen.members.models import User
from tests.factories.furnished import Furnished, furnish
from tests.factories.walks import sections_of, without_secrets

pytestmark = pytest.mark.django_db


@pytest.fixture
def furnished() -> Furnished:
    """Canner time booked by a member, with what is canned in it, and a day the member waits for."""
    made = furnish()
    Slot.objects.filter(pk=made.slot.pk).update(batch=made.run.portion.batch)
    Waiting.objects.update(day=timezone.now().date() + timedelta(days=4))
    return made


def page(furnished: Furnished, reader: User) -> dict[str, str]:
    found = sections_of(reader, reverse("booking:page", args=[furnished.site.kitchen.slug]))
    return {name: without_secrets(part) for name, part in found.items() if name in ("mine", "others")}


def test_each_thing_that_changes_shows_at_once(furnished: Furnished) -> None:
    site = furnished.site
    times = CannerTime.objects.filter(pk=furnished.slot.canner_time_id)
    canner, batch = Canner.objects.filter(times=times.get()), type(furnished.run.portion.batch).objects
    brought = batch.filter(pk=furnished.run.portion.batch_id)
    waiting, later = Waiting.objects.all(), timedelta(minutes=5)
    changes: list[tuple[User, str, QuerySet[Any], dict[str, object]]] = [
        (site.member, "mine", times, {"ends_at": times.get().ends_at + later}),
        (site.member, "mine", canner, {"name": "The big pot"}),
        (site.member, "mine", canner, {"out_of_service_reason": "The vent is blocked."}),
        (site.member, "mine", brought, {"jars": 3}),
        (site.member, "mine", brought, {"food_name": "Plums"}),
        (site.member, "mine", brought, {"arrives_at": brought.get().arrives_at + later}),
        (site.member, "mine", waiting, {"jars": 4}),
        (site.member, "mine", waiting, {"day": waiting.get().day + timedelta(days=1)}),
        (site.lead, "others", User.objects.filter(pk=site.member.pk), {"display_name": "Sorrel Quince"}),
        (site.lead, "others", times, {"ends_at": times.get().ends_at + 2 * later}),
    ]
    for reader, section, rows, changed in changes:
        before = page(furnished, reader)[section]
        assert before == page(furnished, reader)[section]
        assert rows.update(**changed)
        assert page(furnished, reader)[section] != before, changed


def test_what_has_begun_cannot_be_changed_any_more(
    furnished: Furnished, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Cancel " in page(furnished, furnished.site.member)["mine"]
    begun = furnished.slot.canner_time.starts_at + timedelta(minutes=1)
    monkeypatch.setattr(timezone, "now", lambda: begun)
    assert "Cancel " not in page(furnished, furnished.site.member)["mine"]
