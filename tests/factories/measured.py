"""Measured times by the dozen: what a season's process records leave behind."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from kitchen.batches.models import Batch
from kitchen.equipment.models import Canner
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.planning.models import Load
from tests.factories.canner_runs import Run
from tests.factories.loads import make_day
from tests.factories.sites import DAY, Site


def measure_canner(
    site: Site,
    canner: Canner,
    kind: TimedKind,
    ratios: Sequence[float],
    *,
    usual_minutes: float = 40.0,
    least_minutes: int = 0,
    last: date = DAY - timedelta(days=1),
) -> None:
    """One finished load a day up to ``last``, each so many times the usual minutes."""
    for number, ratio in enumerate(ratios):
        on = last - timedelta(days=number)
        day = site.kitchen.harvest_days.filter(date=on).first() or make_day(site.kitchen, on)
        load, _ = Load.objects.get_or_create(
            harvest_day=day,
            canner=canner,
            number=1,
            defaults={
                "lot_code": f"{site.kitchen.site_code}-{canner.code}-{on:%y%j}",
                "method": "pressure_weighted",
                "process_minutes": 25,
            },
        )
        MeasuredTime.objects.create(
            kitchen=site.kitchen,
            kind=kind,
            canner=canner,
            load=load,
            on=on,
            usual_minutes=usual_minutes,
            recorded_minutes=usual_minutes * ratio,
            least_minutes=least_minutes,
            recorded_by=site.operator,
        )


def measure_work(
    site: Site,
    batch: Batch,
    kind: TimedKind,
    ratios: Sequence[float],
    *,
    family: int,
    on: date = DAY - timedelta(days=1),
) -> None:
    """Work that somebody timed, each so many times the usual half hour."""
    for ratio in ratios:
        MeasuredTime.objects.create(
            kitchen=site.kitchen,
            kind=kind,
            batch=batch,
            family=family,
            jars=batch.jars,
            hands=1,
            on=DAY - timedelta(days=1),
            usual_minutes=30,
            recorded_minutes=30 * ratio,
            recorded_by=site.operator,
        )


def noted(run: Run) -> dict[str, float]:
    """What was noted of a run's load: minutes by kind."""
    return dict(MeasuredTime.objects.filter(load=run.load).values_list("kind", "recorded_minutes"))
