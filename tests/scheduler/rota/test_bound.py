"""The proven bounds of a rota, where one person may hold several seats at once."""

from __future__ import annotations

import pytest

from scheduler.rota.bound import measure
from scheduler.rota.question import Helper, Question, Seat


def watches(*able: set[int]) -> Question:
    """Canners watched over the same hour, each by those who are able."""
    seats = tuple(
        Seat(id=str(number), place="canner", start=0, end=60, able=frozenset(people), shared=True)
        for number, people in enumerate(able)
    )
    helpers = tuple(Helper(id=name) for name in "abc")
    return Question(helpers=helpers, seats=seats, shared_limit=2)


@pytest.mark.parametrize(
    ("able", "taken", "people"),
    [
        (({0}, {0, 1}), (0, 0), 1),  # Whoever must watch the one may watch the other as well.
        (({0}, {1}, {0, 1, 2}, {0, 1, 2}), (0, 1, 0, 1), 2),
        (({0}, {0, 1}, {0, 1}), (0, 0, 1), 2),
        (({0, 1}, {1, 2}), (1, 1), 1),  # Neither group lies in the other.
        (({0}, {1}), (0, 1), 2),
    ],
)
def test_a_watch_beside_another_needs_nobody_more(
    able: tuple[set[int], ...], taken: tuple[int, ...], people: int
) -> None:
    measured = measure(watches(*able), taken)
    assert measured.spread_minutes == pytest.approx((people * 60 * 60 / 3) ** 0.5)
    assert measured.spread_bound <= measured.spread_minutes + 1e-9
    # An hour for so many people, shared evenly by the three; the bound takes squares from below in steps.
    assert measured.spread_bound >= 0.95 * people * 60 / 3
