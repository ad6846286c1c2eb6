"""What a day says of its people: limits, file and name."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.day_file import read_day
from scheduler.day_writing import day_toml
from scheduler.digest import day_digest
from scheduler.errors import BadDay, BadDayFile
from scheduler.generator import random_day
from scheduler.problem import Day, StationKind

DAY = random_day(1, "S")


def with_first(**changes: object) -> Day:
    """The made-up day with its first person changed."""
    first, *others = DAY.people
    return replace(DAY, people=(replace(first, **changes), *others))  # type: ignore[arg-type]


SAID: tuple[dict[str, object], ...] = (
    {"learning": True, "trained": False},
    {"cannot": frozenset({StationKind.FILL, StationKind.PREP})},
    {"likes": frozenset({StationKind.COOLING})},
    {"most_minutes": 240},
    {"comes_with": "person-2"},
    {"carried_minutes": 90},
)


@pytest.mark.parametrize("said", SAID, ids=lambda said: next(iter(said)))
def test_what_is_said_of_a_person_is_written_and_read_back_and_names_the_day(
    said: dict[str, object],
) -> None:
    day = with_first(**said)
    assert read_day(day_toml(day)) == day
    assert day_digest(day) != day_digest(DAY)


def test_a_policy_of_the_rota_is_written_and_read_back_and_names_the_day() -> None:
    day = replace(DAY, policy=replace(DAY.policy, break_every_minutes=120, walking_minutes=2))
    assert read_day(day_toml(day)) == day
    assert day_digest(day) != day_digest(DAY)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"most_minutes": 0}, "would work at most 0 minutes"),
        ({"carried_minutes": -1}, "has -1 minutes to carry"),
        ({"comes_with": "person-1"}, "would come with nobody else"),
        ({"comes_with": "nobody"}, "comes with 'nobody'"),
    ],
)
def test_what_contradicts_itself_is_refused(said: dict[str, object], told: str) -> None:
    with pytest.raises(BadDay, match=told):
        with_first(**said)


def test_a_file_that_names_a_stranger_says_which_line() -> None:
    text = day_toml(with_first(comes_with="person-2")).replace(
        'comes_with = "person-2"', 'comes_with = "stranger"'
    )
    line = text.splitlines().index('comes_with = "stranger"') + 1
    with pytest.raises(BadDayFile, match="stranger") as refused:
        read_day(text)
    assert f"Line {line}" in str(refused.value)
