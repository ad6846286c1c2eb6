"""What is one's own on the start page is kept while nothing in it changes, and never longer."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db.models import QuerySet
from django.urls import reverse

from kitchen.batches.models import Batch, Slot
from kitchen.equipment.models import Canner, CannerTime
from kitchen.members.models import User
from kitchen.planning.models import Load, LoadPortion, LoadState
from kitchen.rota.models import Shift, Station
from tests.factories.furnished import Furnished, furnish
from tests.factories.sites import publish
from tests.factories.walks import sections_of

pytestmark = pytest.mark.django_db

OWN = ("batches", "loads", "shifts", "slots")
LATER = timedelta(minutes=7)


@pytest.fixture
def furnished() -> Furnished:
    """A member with a batch on a published plan, a shift at a load, and canner time of their own."""
    made = furnish()
    publish(made.site, made.day)
    Shift.objects.filter(user=made.site.member).exclude(harvest_day=made.day).delete()
    return made


def own(furnished: Furnished, reader: User | None = None) -> dict[str, str]:
    site = furnished.site
    found = sections_of(reader or site.member, reverse("home:kitchen", args=[site.kitchen.slug]))
    return {name: found[name] for name in OWN if name in found}


def moved(rows: QuerySet[CannerTime] | QuerySet[Shift] | QuerySet[Batch], column: str) -> object:
    return getattr(rows.get(), column) + LATER


def test_each_thing_that_changes_shows_at_once(furnished: Furnished) -> None:
    portion = LoadPortion.objects.filter(
        batch__member=furnished.site.member, load__harvest_day=furnished.day
    )[0]
    batch, load = Batch.objects.filter(pk=portion.batch_id), Load.objects.filter(pk=portion.load_id)
    mine = Shift.objects.filter(user=furnished.site.member, cancelled_at__isnull=True).order_by("-ends_at")
    shift = Shift.objects.filter(pk=mine[0].pk)
    shift.update(load=load.get())
    slot, planned = furnished.slot.canner_time, portion.load.canner_time
    assert planned is not None
    times, turns = CannerTime.objects.filter(pk=slot.pk), CannerTime.objects.filter(pk=planned.pk)
    weighted, used = (
        Canner.objects.filter(pk=slot.canner_id),
        Canner.objects.filter(pk=portion.load.canner_id),
    )
    changes: list[tuple[str, QuerySet[Any], str, object]] = [
        ("batches", batch, "jars", 3),
        ("batches", batch, "jar", "quart" if batch.get().jar == "pint" else "pint"),
        ("batches", batch, "food_name", "Plums"),
        ("batches", batch, "state", "done"),
        ("batches", batch, "arrives_at", moved(batch, "arrives_at")),
        ("batches", batch, "picks_up_at", moved(batch, "picks_up_at")),
        ("loads", turns, "starts_at", moved(turns, "starts_at")),
        ("loads", LoadPortion.objects.filter(pk=portion.pk), "jars", 2),
        ("loads", batch, "food_name", "Damsons"),
        ("loads", used, "name", "The big pot"),
        ("loads", load, "state", LoadState.RUNNING),
        ("loads", load, "lot_code", "TY-PLUM-2"),
        ("shifts", shift, "ends_at", moved(shift, "ends_at")),
        ("shifts", shift, "station", Station.KETTLE),
        ("shifts", load, "number", 9),
        ("shifts", used, "name", "The small pot"),
        ("slots", times, "ends_at", moved(times, "ends_at")),
        ("slots", weighted, "name", "The old pot"),
        ("slots", weighted, "out_of_service_reason", "The vent is blocked."),
    ]
    for section, rows, column, value in changes:
        before = own(furnished)
        assert before == own(furnished)
        rows.update(**{column: value})
        assert own(furnished)[section] != before[section], (section, column)


def test_what_is_taken_back_given_away_or_over_is_gone(furnished: Furnished) -> None:
    assert set(own(furnished)) == set(OWN)
    Batch.objects.filter(member=furnished.site.member).update(state="cancelled")
    Load.objects.update(state=LoadState.CANCELLED, cancelled_at=furnished.day.opens_at)
    Shift.objects.update(cancelled_at=furnished.day.opens_at)
    Slot.objects.update(state="cancelled", cancelled_at=furnished.day.opens_at)
    left = own(furnished)
    assert "<li>Nothing yet." in left["batches"]
    assert "When a plan is published" in left["loads"]
    assert "No shift." in left["shifts"]
    assert "slots" not in left


def test_another_persons_are_not_shown(furnished: Furnished) -> None:
    theirs = own(furnished, furnished.site.other)
    assert "slots" not in theirs
    assert "<li>Nothing yet." in theirs["batches"]
