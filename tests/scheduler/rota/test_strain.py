"""What is too much for one person, against a count minute by minute."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.rota.question import Limits
from scheduler.rota.strain import Work, busy_minutes, faults

LIMITS = Limits(break_minutes=15, break_every_minutes=180)


def at(start: int, end: int, place: str = "prep", *, held: bool = False) -> Work:
    return Work(start, end, place, held)


@pytest.mark.parametrize(
    ("work", "limits", "most", "told"),
    [
        ([at(0, 90), at(104, 200)], LIMITS, None, "200 minutes of work without 15 minutes of rest"),
        ([at(0, 181)], LIMITS, None, "181 minutes of work without 15"),
        ([at(0, 100, held=True), at(90, 190, held=True)], LIMITS, None, "190 minutes of work"),
        (
            [at(0, 170), at(186, 320)],
            Limits(meal_minutes=30, meal_after_minutes=300),
            None,
            "320 minutes of work without 30 minutes of rest",
        ),
        (
            [at(0, 60), at(500, 560)],
            Limits(longest_shift_minutes=540, rest_minutes=600),
            None,
            "560 minutes from the first work to the last",
        ),
        ([at(0, 60), at(100, 160)], Limits(), 119, "120 minutes of work in a day"),
        (
            [at(0, 60), at(61, 160, "fill")],
            Limits(walking_minutes=2),
            None,
            "1 minutes to walk from prep to fill",
        ),
        (
            [at(0, 60, "canner", held=True), at(20, 40, "canner", held=True), at(61, 160, "fill")],
            Limits(walking_minutes=2),
            None,
            "1 minutes to walk from canner to fill",
        ),
    ],
)
def test_what_is_too_much_is_said(work: list[Work], limits: Limits, most: int | None, told: str) -> None:
    (said,) = faults(work, limits, most)
    assert told in said


@pytest.mark.parametrize(
    ("work", "limits", "most"),
    [
        ([at(0, 90), at(105, 200)], LIMITS, None),
        ([at(0, 180)], LIMITS, None),
        ([at(0, 200, held=True), at(20, 60, held=True)], LIMITS, None),
        ([at(0, 60), at(660, 720)], Limits(longest_shift_minutes=540, rest_minutes=600), 60),
        ([at(0, 60, held=True), at(30, 90, held=True)], Limits(), 90),
        ([at(0, 60), at(62, 160, "fill")], Limits(walking_minutes=2), None),
        ([at(0, 60), at(60, 160)], Limits(walking_minutes=2), None),
    ],
)
def test_what_is_just_bearable_is_not(work: list[Work], limits: Limits, most: int | None) -> None:
    assert faults(work, limits, most) == ()


PIECES = st.lists(
    st.builds(lambda start, minutes: at(start, start + minutes), st.integers(0, 400), st.integers(1, 120)),
    max_size=8,
)


def tired_by_the_minute(work: list[Work]) -> bool:
    """True when somebody works on past 180 minutes since the last 15 minutes off."""
    busy = {minute for piece in work for minute in range(piece.start, piece.end)}
    began, off = None, 15
    for minute in range(700):
        if minute not in busy:
            off += 1
            continue
        if off >= 15:
            began = minute
        off = 0
        assert began is not None
        if minute + 1 - began > 180:
            return True
    return False


@given(PIECES)
def test_tired_is_tired_minute_by_minute(work: list[Work]) -> None:
    assert bool(faults(work, LIMITS)) == tired_by_the_minute(work)


@given(PIECES)
def test_busy_minutes_are_those_with_something_to_do(work: list[Work]) -> None:
    assert busy_minutes(work) == len({m for piece in work for m in range(piece.start, piece.end)})
