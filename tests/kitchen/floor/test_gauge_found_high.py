"""A dial gauge found to read high puts what was run on it since its last check on hold (rules S8 and S16)."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from kitchen.equipment.actions import record_gauge_check
from kitchen.errors import BadReading
from kitchen.floor.models import EventKind, RunEvent
from kitchen.planning.models import Load, LoadPortion
from kitchen.reminders.models import Reminder
from scheduler.canner_kind import CannerKind
from scheduler.jars import JarSize, Pack
from scheduler.process import find_processes
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    """Beans planned on the dial canner, whose gauge was found right a month before: 12 lb of process."""
    site = make_site()
    run = make_bean_run(site)
    run.load.canner = site.dial
    run.load.pressure_psi = run.load.target_reading_psi = 12
    run.load.save()
    process, *_ = find_processes(
        "snap_beans", Pack.RAW, JarSize.QUART, CannerKind.DIAL, site.kitchen.altitude_ft
    )
    LoadPortion.objects.filter(pk=run.portion.pk).update(process_key=process.key)
    check(run, "0", run.day.date - timedelta(days=30))
    return run


def check(run: Run, error_psi: str, on: date) -> None:
    record_gauge_check(
        canner=run.site.dial,
        checked_on=on,
        error_psi=Decimal(error_psi),
        checked_by="Extension office",
        actor=run.site.operator,
        now=run.at(60 * 24 * 60),
    )


def run_through(run: Run, reading_psi: float) -> Load:
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, minutes, reading_psi if kind is EventKind.AT_PRESSURE else None)
    run.take_out(BEANS_OUT)
    load = run.fresh()
    assert not load.on_hold
    return load


@pytest.mark.parametrize(
    ("error_psi", "shown", "held"),
    [
        ("1", 12, True),
        ("1", 13, False),
        ("2.5", 14, True),
        ("2.5", 14.5, False),
        ("-1.5", 12, False),
        ("0", 12, False),
    ],
)
def test_loads_since_the_last_check_are_held_when_their_pressure_may_have_been_too_low(
    run: Run, error_psi: str, shown: float, held: bool
) -> None:
    run_through(run, shown)
    check(run, error_psi, run.day.date + timedelta(days=10))
    load = run.fresh()
    assert (load.on_hold, "(rule S8)" in load.deviation) == (held, held)
    news = [one.news["title"] for one in Reminder.objects.filter(recipient=run.site.lead) if one.news]
    assert any("are on hold" in title for title in news) is held


def test_it_says_what_the_pressure_may_have_been(run: Run) -> None:
    run_through(run, 12.5)
    check(run, "1.5", run.day.date + timedelta(days=10))
    assert run.fresh().deviation == (
        "The gauge was found to read 1.5 lb high on 22 September 2026: the 12.5 lb that it showed may have been 11 lb, "
        "where 12 lb are needed (rule S8)."
    )


def test_a_reading_that_nobody_wrote_down_counts_as_what_it_was_to_be(run: Run) -> None:
    """Records older than the demand for a reading have none."""
    run_through(run, 13)
    reading = RunEvent.objects.get(load=run.load, kind=EventKind.AT_PRESSURE)
    lines = RunEvent.objects.filter(load=run.load)
    line = lines.get(kind=EventKind.HEAT_OFF)
    assert reading.reading_psi == 13
    other = Load.objects.create(
        harvest_day=run.day, canner=run.site.dial, number=2, lot_code="X-2", method="pressure_dial",
        pressure_psi=12, target_reading_psi=12, process_minutes=25, state="running",
    )  # fmt: skip
    RunEvent.objects.create(
        load=other, kind=EventKind.AT_PRESSURE, at=reading.at, recorded_by=run.site.operator
    )
    RunEvent.objects.create(load=other, kind=EventKind.HEAT_OFF, at=line.at, recorded_by=run.site.operator)
    check(run, "0.5", run.day.date + timedelta(days=10))
    other.refresh_from_db()
    assert (run.fresh().on_hold, other.on_hold) == (False, True)


def test_what_was_run_before_the_last_good_check_is_left_alone(run: Run) -> None:
    run_through(run, 12)
    check(run, "0", run.day.date + timedelta(days=5))
    check(run, "1.5", run.day.date + timedelta(days=10))
    assert not run.fresh().on_hold


def test_a_load_that_was_thrown_out_is_not_held_again(run: Run) -> None:
    run_through(run, 12)
    Load.objects.filter(pk=run.load.pk).update(discarded=True)
    check(run, "1.5", run.day.date + timedelta(days=10))
    assert not run.fresh().on_hold


def test_at_pressure_of_a_dial_gauge_is_not_recorded_without_a_reading(run: Run) -> None:
    for kind, minutes in BEAN_TAPS[:3]:
        run.tap(kind, minutes)
    with pytest.raises(BadReading, match="was not read"):
        run.tap(EventKind.AT_PRESSURE, 32)
    assert not RunEvent.objects.filter(load=run.load, kind=EventKind.AT_PRESSURE).exists()
    run.tap(EventKind.AT_PRESSURE, 32, reading_psi=12)
