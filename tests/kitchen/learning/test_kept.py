"""The tables and the newest records on the page of measured times show each change at once."""

from __future__ import annotations

import pytest
from django.urls import reverse

from kitchen.batches.models import Batch
from kitchen.equipment.models import Canner
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.planning.models import Load
from tests.factories.measured import measure_canner, measure_work
from tests.factories.sites import Site, declare, make_open_day, make_site
from tests.factories.walks import signed_in, without_secrets

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    """One load and one piece of work were timed."""
    made = make_site()
    batch = declare(made, make_open_day(made), jars=14)
    measure_canner(made, made.weighted, TimedKind.HEAT_UP, [1.1])
    measure_work(made, batch, TimedKind.PREP, [0.9], family=4)
    return made


def test_each_thing_that_changes_shows_at_once(site: Site) -> None:
    def page() -> str:
        address = reverse("learning:times", args=[site.kitchen.slug])
        return without_secrets(signed_in(site.lead).get(address).content.decode())

    work, timed = MeasuredTime.objects.filter(load=None), MeasuredTime.objects.exclude(load=None)
    changes: list[tuple[object, dict[str, object], str]] = [
        (Canner.objects.filter(pk=site.weighted.pk), {"name": "The big pot"}, "The big pot"),
        (Load.objects.all(), {"lot_code": "TY-PLUM-1"}, "TY-PLUM-1"),
        (Batch.objects.all(), {"food_name": "Damsons"}, "Damsons"),
        (work, {"recorded_minutes": 77.0}, "77 min"),
        (work, {"hands": 3}, "3 people"),
        (timed, {"usual_minutes": 66.0}, "usual 66"),
    ]
    for rows, changed, shown in changes:
        before = page()
        assert before == page()
        assert shown not in before
        rows.update(**changed)  # type: ignore[attr-defined]  # Rows of several tables.
        assert shown in page(), changed
    work.delete()
    assert "77 min" not in page()
