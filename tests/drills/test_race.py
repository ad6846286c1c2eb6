"""The race for canners, small; and that the drill would notice."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.utils import timezone

from kitchen.bench.processes import Place
from kitchen.bench.sites import Site, make_site
from kitchen.drill.race import RACE, overlaps, untold
from kitchen.drill.report import Report
from kitchen.equipment.models import Canner, CannerTime, Purpose

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def site() -> Site:
    return make_site(0, members=1, today=timezone.now().date())


def take(site: Site, canner: Canner, starts_at: datetime) -> None:
    CannerTime.objects.create(
        kitchen=site.kitchen,
        canner=canner,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(hours=1),
        purpose=Purpose.SLOT,
    )


def test_racers_never_get_the_same_canner_and_losers_hear_why(tmp_path: Path) -> None:
    told: list[str] = []
    report = Report(tell=told.append)
    RACE.run({"attempts": 160, "processes": 4}, Place(folder=tmp_path), report)
    assert report.broken == [], told


def test_the_drill_notices_two_on_one_burner(site: Site) -> None:
    now = timezone.now()
    take(site, site.canners[0], now)
    take(site, site.canners[1], now + timedelta(minutes=59))
    take(site, site.canners[0], now + timedelta(minutes=60))
    assert overlaps(site) == 0
    Canner.objects.filter(pk=site.canners[1].pk).update(burner=site.canners[0].burner)
    assert overlaps(site) == 2


def test_the_drill_notices_a_loser_who_was_not_told(site: Site) -> None:
    now = timezone.now()
    take(site, site.canners[0], now)

    def lost(canner: Canner, *clashes: int) -> dict[str, object]:
        spans = [
            (
                (now + timedelta(minutes=one)).isoformat(),
                (now + timedelta(minutes=one + 60)).isoformat(),
            )
            for one in clashes
        ]
        until = (now + timedelta(minutes=30)).isoformat()
        return {"canner": canner.pk, "from": now.isoformat(), "to": until, "clashes": spans, "told": "."}

    right = lost(site.canners[0], 0)
    no_time, not_in_the_way, never_booked = (
        lost(site.canners[0]),
        lost(site.canners[0], 60),
        lost(site.canners[1], 0),
    )
    assert list(untold(site, [right])) == []
    assert len(list(untold(site, [right, no_time, not_in_the_way, never_booked]))) == 3
