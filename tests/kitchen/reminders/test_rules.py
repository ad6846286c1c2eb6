"""When reminders are due, and what is still to be done with a jar that did not seal."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitchen.errors import BadTime
from kitchen.reminders.models import Kind, State
from kitchen.reminders.rules import (
    VALID_NEXT,
    Remedy,
    check_jars_out_time,
    due_at,
    pause_after,
    remedy_at,
    reprocess_by,
)

ENDED = datetime(2026, 9, 12, 18, tzinfo=UTC)
# The nights in which clocks change, local noon before: the 24 hours after it hold 25 or 23 hours on the wall.
CHANGES = [
    ("America/Denver", datetime(2026, 10, 31, 18, tzinfo=UTC)),
    ("America/Denver", datetime(2026, 3, 7, 19, tzinfo=UTC)),
    ("Europe/Berlin", datetime(2026, 10, 24, 10, tzinfo=UTC)),
    ("Europe/Berlin", datetime(2026, 3, 28, 11, tzinfo=UTC)),
    ("Australia/Lord_Howe", datetime(2026, 4, 4, 1, tzinfo=UTC)),
    ("Australia/Lord_Howe", datetime(2026, 10, 3, 1, 30, tzinfo=UTC)),
]


@pytest.mark.parametrize(("zone", "out"), CHANGES)
def test_hours_are_elapsed_hours_across_a_change_of_clocks_even_from_local_times(
    zone: str, out: datetime
) -> None:
    local = out.astimezone(ZoneInfo(zone))
    assert local.utcoffset() != (out + timedelta(hours=24)).astimezone(ZoneInfo(zone)).utcoffset()
    assert due_at(Kind.FIRST_CALL, local) == out + timedelta(hours=12)
    assert due_at(Kind.SEAL_CHECK, local) == out + timedelta(hours=24)
    assert reprocess_by(local) == out + timedelta(hours=24)


@pytest.mark.parametrize(
    ("after", "remedy"),
    [
        (timedelta(hours=12), Remedy.REPROCESS),
        (timedelta(hours=24) - timedelta(microseconds=1), Remedy.REPROCESS),
        (timedelta(hours=24), Remedy.TOO_LATE),
        (timedelta(days=3), Remedy.TOO_LATE),
    ],
)
def test_a_reprocess_starts_within_24_hours_of_the_first_process(after: timedelta, remedy: Remedy) -> None:
    assert remedy_at(ENDED + after, reprocess_by(ENDED)) is remedy


def test_an_end_that_was_not_recorded_leaves_no_time_to_reprocess() -> None:
    assert reprocess_by(None) is None
    assert remedy_at(ENDED, None) is Remedy.UNKNOWN


@given(st.integers(min_value=0, max_value=2000))
def test_the_24_hour_call_never_comes_in_time_for_a_reprocess(rest_minutes: int) -> None:
    """Jars come out after the process ends, so only the first call leaves room."""
    out = ENDED + timedelta(minutes=rest_minutes)
    assert remedy_at(due_at(Kind.SEAL_CHECK, out), reprocess_by(ENDED)) is Remedy.TOO_LATE


def test_pauses_grow_to_an_hour() -> None:
    minutes = [pause_after(attempts) / timedelta(minutes=1) for attempts in range(1, 11)]
    assert minutes == [1, 2, 4, 8, 16, 32, 60, 60, 60, 60]


def test_the_table_of_states_is_complete() -> None:
    assert set(VALID_NEXT) == set(State)
    assert VALID_NEXT[State.DONE] == frozenset()


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(BadTime, match="has no time zone"):
        check_jars_out_time(datetime(2026, 9, 12, 18))  # noqa: DTZ001  (what is refused)
