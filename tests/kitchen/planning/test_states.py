"""Tables of what may follow what: none forgotten, and each refusal in words."""

from __future__ import annotations

from datetime import timedelta

import pytest

from kitchen.errors import BadHarvestDay, OutOfOrder
from kitchen.planning.loads import move_load
from kitchen.planning.models import OPEN_JOB_STATES, DayState, JobState, LoadState
from kitchen.planning.rules import (
    VALID_DAY_NEXT,
    VALID_JOB_NEXT,
    VALID_LOAD_NEXT,
    check_day_may_become,
    check_load_may_become,
)
from tests.factories.loads import load_of_one
from tests.factories.sites import make_open_day, make_site


def test_no_state_was_forgotten() -> None:
    assert (set(VALID_DAY_NEXT), set(VALID_JOB_NEXT), set(VALID_LOAD_NEXT)) == (
        set(DayState),
        set(JobState),
        set(LoadState),
    )


def test_a_job_is_open_exactly_while_something_may_follow() -> None:
    assert {state for state in JobState if VALID_JOB_NEXT[state]} == set(OPEN_JOB_STATES)


@pytest.mark.parametrize("now", LoadState)
@pytest.mark.parametrize("wanted", LoadState)
def test_a_load_moves_only_forwards(now: LoadState, wanted: LoadState) -> None:
    forwards = {
        (LoadState.PLANNED, LoadState.RUNNING),
        (LoadState.PLANNED, LoadState.OUT),
        (LoadState.PLANNED, LoadState.CANCELLED),
        (LoadState.RUNNING, LoadState.OUT),
        (LoadState.OUT, LoadState.CLOSED),
    }
    if (now, wanted) in forwards:
        check_load_may_become(now, wanted)
    else:
        with pytest.raises(OutOfOrder):
            check_load_may_become(now, wanted)


@pytest.mark.django_db
def test_a_day_that_is_over_stays_so() -> None:
    day = make_open_day(make_site())
    day.state = DayState.CLOSED
    for state in DayState:
        with pytest.raises(BadHarvestDay):
            check_day_may_become(day, state)


@pytest.mark.django_db
def test_a_cancelled_load_frees_its_canner_and_tells_calendars() -> None:
    load = load_of_one()
    at = load.harvest_day.opens_at + timedelta(minutes=1)
    load = move_load(load=load, state=LoadState.CANCELLED, at=at, actor=None)
    assert load.canner_time is not None
    load.canner_time.refresh_from_db()
    assert (load.sequence, load.cancelled_at, load.canner_time.occupies) == (1, at, False)
