"""The clocks of the run sheet: from when until when there is nothing to do but wait (rules S4 to S6)."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kitchen.equipment.models import Canner
from kitchen.floor.models import EventKind
from kitchen.floor.queries import standing_events
from kitchen.floor.rules import Tap, deviations_in
from kitchen.floor.waits import Wait, expected_next, wait_of
from tests.factories.canner_runs import (
    APPLESAUCE_TAPS,
    BEAN_TAPS,
    BEANS_OUT,
    Run,
    make_applesauce_run,
    make_bean_run,
)
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def taps_of(run: Run, *steps: tuple[EventKind, float]) -> list[Tap]:
    return [Tap(kind=kind, at=run.at(minutes)) for kind, minutes in steps]


def minutes_of(run: Run, wait: Wait | None) -> tuple[float, float] | None:
    """From and until, in minutes after loading began."""
    if wait is None:
        return None
    nine = run.at(0)
    return (wait.began - nine) / timedelta(minutes=1), (wait.until - nine) / timedelta(minutes=1)


def test_the_waits_of_a_bean_run(run: Run) -> None:
    """Vent 10, process 25, at the least 20 of cool-down, rest 10; jars out 55 after heat off as planned."""
    waits = [minutes_of(run, wait_of(run.load, taps_of(run, *BEAN_TAPS[:count]))) for count in range(8)]
    assert waits == [None, None, (17, 27), None, (32, 57), (57, 77), (102, 112), None]


def test_the_waits_in_boiling_water() -> None:
    """The lid comes off at once, the jars after 5 minutes."""
    run = make_applesauce_run(make_site())
    steps = (*APPLESAUCE_TAPS, (EventKind.LID_OFF, 46))
    waits = [minutes_of(run, wait_of(run.load, taps_of(run, *steps[:count]))) for count in range(5)]
    assert waits == [None, None, (25, 45), None, (46, 50)]


def test_a_loss_ends_the_wait_and_pressure_begins_it_anew(run: Run) -> None:
    lost = (*BEAN_TAPS[:4], (EventKind.PRESSURE_LOST, 50))
    assert wait_of(run.load, taps_of(run, *lost)) is None
    won = wait_of(run.load, taps_of(run, *lost, (EventKind.AT_PRESSURE, 55)))
    assert minutes_of(run, won) == (55, 80)


def test_a_lid_that_came_off_early_does_not_let_the_jars_out(run: Run) -> None:
    """Zero pressure at 90, lid off at 100: cool-down and rest were planned to 112."""
    steps = (*BEAN_TAPS[:5], (EventKind.ZERO_PRESSURE, 90), (EventKind.LID_OFF, 100))
    assert minutes_of(run, wait_of(run.load, taps_of(run, *steps))) == (100, 112)


@pytest.mark.parametrize(("jar", "least"), [("pint", 30), ("quart", 45)])
def test_a_heavy_walled_canner_cools_longer(run: Run, jar: str, least: int) -> None:
    Canner.objects.filter(pk=run.load.canner_id).update(heavy_walled=True)
    run.portion.batch.jar = jar
    run.portion.batch.save()
    assert minutes_of(run, wait_of(run.fresh(), taps_of(run, *BEAN_TAPS[:5]))) == (57, 57 + least)


@pytest.mark.parametrize("count", [2, 4, 5, 6])
def test_the_step_at_the_end_of_its_wait_breaks_no_rule_and_a_second_before_does(
    run: Run, count: int
) -> None:
    """The page and the rules that put jars on hold agree."""
    before, step = taps_of(run, *BEAN_TAPS[:count]), BEAN_TAPS[count][0]
    wait = wait_of(run.load, before)
    assert wait is not None
    in_time, early = (Tap(kind=step, at=wait.until - timedelta(seconds=one)) for one in (0, 1))
    assert deviations_in(run.load, [*before, in_time]) == []
    assert len(deviations_in(run.load, [*before, early])) == 1


def test_a_wall_clock_is_never_told_too_early(run: Run) -> None:
    half = Wait(began=run.at(0), until=run.at(27.5))
    whole = Wait(began=run.at(0), until=run.at(27))
    assert (half.until_shown, whole.until_shown) == (run.at(28), run.at(27))
    assert (half.is_over(run.at(27.49)), half.is_over(run.at(27.5))) == (False, True)


def test_what_is_expected_next_follows_the_plan_from_what_happened(run: Run) -> None:
    assert expected_next(run.load, []) == run.at(5)
    late = [(kind, minutes + 7) for kind, minutes in BEAN_TAPS]
    expected = [expected_next(run.load, taps_of(run, *late[:count])) for count in range(1, 8)]
    assert expected == [run.at(24), None, run.at(39), None, run.at(109), None, None]


def test_the_clock_of_a_whole_recorded_run_ends_with_jars_out(run: Run) -> None:
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, minutes)
    run.take_out(BEANS_OUT)
    taps = [Tap(kind=EventKind(one.kind), at=one.at) for one in standing_events(run.load)]
    assert wait_of(run.load, taps) is None
