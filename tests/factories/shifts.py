"""Shifts beside a run: a person, or nobody, at a station for a while, counted from the loading of its load."""

from __future__ import annotations

from kitchen.members.models import User
from kitchen.rota.models import Shift, Station
from tests.factories.canner_runs import Run


def make_shift(
    run: Run,
    user: User | None,
    station: Station = Station.PREP,
    starts: float = 0,
    minutes: float = 60,
    *,
    asked_for: bool = False,
    task: str = "",
) -> Shift:
    """A shift of the run's day; one that was not asked for by hand belongs to its load."""
    return Shift.objects.create(
        harvest_day=run.day,
        user=user,
        station=station,
        task=task,
        load=None if asked_for else run.load,
        asked_for=asked_for,
        starts_at=run.at(starts),
        ends_at=run.at(starts + minutes),
    )
