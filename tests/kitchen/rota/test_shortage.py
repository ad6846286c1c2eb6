"""Where hands are missing, by station and hour."""

from __future__ import annotations

import pytest

from kitchen.rota.models import Shift, Station
from kitchen.rota.shortage import shortages
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.shifts import make_shift
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def lines(run: Run, at: float = -60) -> list[str]:
    return shortages(Shift.objects.select_related("harvest_day__kitchen"), run.at(at))


def test_one_person_is_missing(run: Run) -> None:
    make_shift(run, None, Station.FILL, 240, 60)
    make_shift(run, None, Station.FILL, 300, 60)
    make_shift(run, run.site.member, Station.FILL, 240, 60)
    assert lines(run) == ["Fill, 13:00 to 15:00: one person is missing"]


def test_more_are_missing_for_a_while_and_stations_are_apart(run: Run) -> None:
    make_shift(run, None, Station.FILL, 0, 120)
    make_shift(run, None, Station.FILL, 60, 120)
    make_shift(run, None, Station.PREP, 0, 30)
    make_shift(run, None, Station.PREP, 60, 30)
    assert lines(run) == [
        "Prep, 09:00 to 09:30: one person is missing",
        "Prep, 10:00 to 10:30: one person is missing",
        "Fill, 09:00 to 10:00: one person is missing",
        "Fill, 10:00 to 11:00: two people are missing",
        "Fill, 11:00 to 12:00: one person is missing",
    ]


def test_one_trained_person_watches_as_many_canners_as_the_kitchen_allows(run: Run) -> None:
    """Two by default (rule S9)."""
    for starts in (0, 0, 60):
        make_shift(run, None, Station.CANNER, starts, 120)
    assert lines(run) == [
        "Canner, 09:00 to 10:00: one trained person is missing, for two canners",
        "Canner, 10:00 to 11:00: two trained people are missing, for three canners",
        "Canner, 11:00 to 12:00: one trained person is missing",
    ]


def test_what_is_past_is_not_missing_any_more(run: Run) -> None:
    make_shift(run, None, Station.FILL, 0, 60)
    assert lines(run, 30) == ["Fill, 09:30 to 10:00: one person is missing"]
    assert lines(run, 60) == []
