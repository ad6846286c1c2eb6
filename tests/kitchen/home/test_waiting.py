"""What waits at the top of one's page is kept while nothing in it changes, and never longer."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.models import Batch
from kitchen.equipment.models import Canner
from kitchen.members.models import User
from kitchen.planning.models import Load, LoadPortion, LoadState
from tests.factories.sites import Site, declare, make_open_day, make_site, publish
from tests.factories.walks import sections_of

pytestmark = pytest.mark.django_db

OUT_AT = timezone.now()


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def load(site: Site) -> Load:
    """One that is out and on hold; all else of the day is cancelled."""
    day = make_open_day(site)
    declare(site, day, jars=14)
    publish(site, day)
    first = Load.objects.order_by("pk")[0]
    Load.objects.exclude(pk=first.pk).update(state=LoadState.CANCELLED)
    first.state, first.jars_out_at = LoadState.OUT, OUT_AT
    first.on_hold, first.deviation = True, "Processed 18 of 25 minutes (rule S6)."
    first.save()
    return first


def sections(site: Site, reader: User) -> dict[str, str]:
    found = sections_of(reader, reverse("home:kitchen", args=[site.kitchen.slug]))
    return {name: part for name, part in found.items() if name in ("hold", "count")}


def test_each_thing_that_changes_shows_at_once(site: Site, load: Load) -> None:
    portion = LoadPortion.objects.get(load=load)
    batch, one = Batch.objects.filter(pk=portion.batch_id), Load.objects.filter(pk=load.pk)
    earlier = OUT_AT - timedelta(minutes=71)
    changes: list[tuple[str, object, str, object]] = [
        ("hold", one, "deviation", "The gauge was not looked at."),
        ("hold", one, "lot_code", "TY-PLUM-1"),
        ("hold", Canner.objects.filter(pk=load.canner_id), "name", "The other pot"),
        ("count", LoadPortion.objects.filter(pk=portion.pk), "jars", 3),
        ("count", batch, "jar", "quart" if portion.batch.jar == "pint" else "pint"),
        ("count", batch, "food_name", "Plums"),
        ("count", User.objects.filter(pk=site.member.pk), "display_name", "Sorrel Quince"),
        ("count", one, "lot_code", "TY-PLUM-2"),
        ("count", one, "jars_out_at", earlier),
    ]
    for section, rows, column, value in changes:
        before = sections(site, site.lead)
        assert before == sections(site, site.lead)
        rows.update(**{column: value})  # type: ignore[attr-defined]  # Rows of several tables.
        after = sections(site, site.lead)
        assert after[section] != before[section], column
        shown = f"{earlier.astimezone(site.kitchen.zone):%H:%M}" if value == earlier else str(value)
        assert shown in after[section].lower() if column == "jar" else shown in after[section]


def test_what_is_decided_and_counted_is_gone(site: Site, load: Load) -> None:
    assert set(sections(site, site.lead)) == {"hold", "count"}
    assert set(sections(site, site.operator)) == {"count"}
    assert set(sections(site, site.other)) == set()
    Load.objects.filter(pk=load.pk).update(on_hold=False, state=LoadState.CLOSED)
    assert sections(site, site.lead) == {}
