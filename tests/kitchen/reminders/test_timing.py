"""Quiet hours and digests on the kitchen's clock, through both changes of it; safety waits for nothing."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitchen.reminders.models import Kind, MailChoices
from kitchen.reminders.timing import (
    DIGEST_AT,
    GATHERED,
    OPTIONAL,
    SOON,
    Decision,
    Way,
    is_quiet,
    next_at,
    way_of,
)

DENVER = ZoneInfo("America/Denver")
ZONES = [DENVER, ZoneInfo("Europe/Berlin"), ZoneInfo("Asia/Kathmandu"), ZoneInfo("America/Havana")]
EVENING, MORNING = time(22), time(7)
FIRST = datetime(2026, 1, 1, tzinfo=UTC)
MOMENTS = st.integers(0, 2 * 365 * 24 * 60).map(lambda minutes: FIRST + timedelta(minutes=minutes))
CLOCKS = st.times().map(lambda clock: clock.replace(second=0, microsecond=0))


def choices(
    quiet_from: time | None = EVENING,
    quiet_until: time | None = MORNING,
    *,
    once_a_day: bool = False,
    off: tuple[str, ...] = (),
) -> MailChoices:
    return MailChoices(quiet_from=quiet_from, quiet_until=quiet_until, once_a_day=once_a_day, off=list(off))


def local(year: int, month: int, day: int, hour: int, minute: int = 0, *, fold: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute, tzinfo=DENVER, fold=fold).astimezone(UTC)


@pytest.mark.parametrize(
    ("now", "until"),
    [
        (local(2026, 9, 12, 22), local(2026, 9, 13, 7)),
        (local(2026, 9, 13, 3), local(2026, 9, 13, 7)),
        (local(2026, 9, 13, 7), None),
        (local(2026, 9, 12, 21, 59), None),
        # The nights in which the clocks change: an hour less, and an hour more.
        (local(2026, 3, 7, 22), local(2026, 3, 8, 7)),
        (local(2026, 10, 31, 22), local(2026, 11, 1, 7)),
    ],
)
def test_what_may_wait_waits_until_quiet_hours_end(now: datetime, until: datetime | None) -> None:
    decided = way_of(Kind.ROTA, choices(), now=now, zone=DENVER)
    assert decided == (Decision(way=Way.WAIT, until=until) if until else Decision(way=Way.SEND))


def test_the_night_is_as_long_as_it_is() -> None:
    def waits(month: int, day: int) -> timedelta:
        now = local(2026, month, day, 22)
        return next_at(MORNING, now, DENVER) - now

    assert [waits(3, 7), waits(9, 12), waits(10, 31)] == [timedelta(hours=hours) for hours in (8, 9, 10)]


def test_an_hour_that_comes_twice_is_quiet_twice() -> None:
    ends_at_half_past_one = choices(time(22), time(1, 30))
    for fold in (0, 1):
        now = local(2026, 11, 1, 1, 10, fold=fold)
        decided = way_of(Kind.SHIFT, ends_at_half_past_one, now=now, zone=DENVER)
        assert decided.until == now + timedelta(minutes=20)


def test_a_time_that_is_skipped_ends_after_the_skip() -> None:
    """02:30 does not come on 8 March: the clock goes from 02:00 to 03:00."""
    assert next_at(time(2, 30), local(2026, 3, 8, 1, 59), DENVER) == local(2026, 3, 8, 3, 30)


@pytest.mark.parametrize("zone", ZONES)
@given(now=MOMENTS, clock=CLOCKS)
def test_the_next_time_on_the_clock_is_the_next(zone: ZoneInfo, now: datetime, clock: time) -> None:
    at = next_at(clock, now, zone)
    assert timedelta() < at - now <= timedelta(hours=26)
    shown = at.astimezone(zone).time()
    skipped = shown != clock
    assert not skipped or (at - timedelta(hours=1, minutes=1)).astimezone(zone).time() < clock
    minute, found = timedelta(minutes=1), at - timedelta(minutes=1)
    while found > max(now, at - timedelta(hours=2)):
        assert found.astimezone(zone).replace(second=0, microsecond=0).time() != clock
        found -= minute


@pytest.mark.parametrize("zone", ZONES)
@given(now=MOMENTS, starts=CLOCKS, ends=CLOCKS)
def test_nobody_waits_where_it_is_not_quiet(zone: ZoneInfo, now: datetime, starts: time, ends: time) -> None:
    if starts == ends:
        return
    quiet = choices(starts, ends)
    decided = way_of(Kind.ROTA, quiet, now=now, zone=zone)
    assert (decided.way is Way.WAIT) == is_quiet(now, quiet, zone)


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind not in (*OPTIONAL, Kind.DIGEST)])
@given(now=MOMENTS)
def test_safety_waits_for_nothing(kind: Kind, now: datetime) -> None:
    everything = choices(time(0), time(23, 59), once_a_day=True, off=tuple(Kind.values))
    assert way_of(kind, everything, now=now, zone=DENVER) == Decision(way=Way.SEND)


def test_what_is_not_wanted_is_only_shown() -> None:
    now = local(2026, 9, 12, 23)
    assert way_of(Kind.SHIFT, choices(off=("shift",)), now=now, zone=DENVER).way is Way.SHOW
    assert way_of(Kind.ROTA, choices(off=("shift",)), now=now, zone=DENVER).way is Way.WAIT


def test_a_digest_holds_what_begins_later_and_nothing_of_tomorrow() -> None:
    now = local(2026, 9, 12, 12)
    wanted = choices(None, None, once_a_day=True)
    for kind in OPTIONAL:
        decided = way_of(kind, wanted, now=now, zone=DENVER)
        assert (decided.way is Way.GATHER) == (kind in GATHERED)
    later = way_of(Kind.ROTA, wanted, now=now, zone=DENVER, begins=now + SOON + timedelta(minutes=1))
    assert later == Decision(way=Way.GATHER, until=local(2026, 9, 12, DIGEST_AT.hour))
    assert way_of(Kind.ROTA, wanted, now=now, zone=DENVER, begins=now + SOON).way is Way.SEND


def test_whoever_chose_nothing_gets_all_at_once() -> None:
    assert way_of(Kind.ROTA, None, now=local(2026, 9, 12, 23), zone=DENVER).way is Way.SEND
