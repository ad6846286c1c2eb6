"""Circles in a circle: the published packings, and what the search may and may not accept."""

from __future__ import annotations

import math
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.errors import TablesDamaged
from scheduler.packing import (
    MOST_ON_A_RACK,
    PACKINGS,
    Mixed,
    Point,
    clear,
    equal_places,
    frontier,
    most_equal,
    places,
    read_packings,
    widest,
)

# Outer diameter over jar diameter for n = 1 to 19. Source: E. Specht's table (Packomania) as reprinted in
# Birgin and Gentil, Computers & Operations Research 37 (2010), table 1; where a closed form is known it is
# written out.
PUBLISHED = (
    1.0,
    2.0,
    1 + 2 / math.sqrt(3),
    1 + math.sqrt(2),
    1 + 1 / math.sin(math.pi / 5),
    3.0,
    3.0,
    1 + 1 / math.sin(math.pi / 7),
    1 + 1 / math.sin(math.pi / 8),
    3.8130256313981243,
    1 + 1 / math.sin(math.pi / 9),
    4.0296019301161834,
    2 + math.sqrt(5),
    4.3284285548608366,
    4.5213569647061642,
    4.6154255948731939,
    4.7920337483105791,
    1 + math.sqrt(2) + math.sqrt(6),
    1 + math.sqrt(2) + math.sqrt(6),
)
JAR_IN = 3.24


def overlap(rack_in: float, circles: list[tuple[Point, float]]) -> float:
    """How far the worst pair overlaps, or the worst circle sticks out; negative when all is free."""
    out = [math.hypot(*centre) + width / 2 - rack_in / 2 for centre, width in circles]
    pairs = [(a[1] + b[1]) / 2 - math.dist(a[0], b[0]) for a, b in combinations(circles, 2)]
    return max([*out, *pairs], default=-math.inf)


@pytest.mark.parametrize("count", range(1, 20))
def test_that_many_fit_at_the_published_ratio_and_not_one_more(count: int) -> None:
    ratio = PUBLISHED[count - 1]
    most_at_this_ratio = max(n for n in range(1, 20) if PUBLISHED[n - 1] <= ratio + 1e-12)

    assert most_equal(ratio * JAR_IN, JAR_IN) == most_at_this_ratio
    assert most_equal(ratio * JAR_IN * (1 - 1e-9), JAR_IN) < count


def test_six_and_eighteen_are_as_wide_as_seven_and_nineteen() -> None:
    assert (most_equal(3.0, 1.0), most_equal(PUBLISHED[17], 1.0)) == (7, 19)


@pytest.mark.parametrize("count", range(1, MOST_ON_A_RACK + 1))
def test_every_stored_packing_attains_its_ratio(count: int) -> None:
    rack_in = JAR_IN / widest(count, 1.0)

    circles = [(centre, JAR_IN) for centre in equal_places(count, rack_in - JAR_IN)]

    assert len(set(circles)) == count
    assert abs(overlap(rack_in, circles)) < 1e-11 or count == 1


def test_a_wider_rack_than_the_table_knows_holds_thirty() -> None:
    assert most_equal(100.0, 2.0) == MOST_ON_A_RACK


def test_a_jar_wider_than_the_rack_does_not_stand_on_it() -> None:
    assert most_equal(3.0, 3.001) == 0
    assert places(3.0, [(3.001, 1)]) is None


@given(rack_in=st.floats(3, 20), jar_in=st.floats(2, 5), more_in=st.floats(0, 5))
def test_equal_jars_stand_free_and_a_wider_rack_holds_no_fewer(
    rack_in: float, jar_in: float, more_in: float
) -> None:
    count = most_equal(rack_in, jar_in)

    circles = [(centre, jar_in) for centre in equal_places(count, rack_in - jar_in)]

    assert len(circles) == count
    assert overlap(rack_in, circles) < 1e-9
    assert most_equal(rack_in + more_in, jar_in) >= count >= most_equal(rack_in, jar_in + more_in)


@settings(max_examples=40)
@given(large_in=st.floats(1, 4), small_in=st.floats(0.5, 4))
def test_one_of_each_fits_exactly_when_their_widths_add_up(large_in: float, small_in: float) -> None:
    large_in, small_in = max(large_in, small_in), min(large_in, small_in)
    needed_in = large_in + small_in

    assert places(needed_in * 1.001, [(large_in, 1), (small_in, 1)]) is not None
    assert places(needed_in * 0.999, [(large_in, 1), (small_in, 1)]) is None


@pytest.mark.parametrize("small_in", [0.8, 1.2, 1.6, 2.0])
def test_two_large_and_a_small_fit_when_descartes_says_so(small_in: float) -> None:
    """Three circles that touch each other: the outer one has the curvature of Descartes' theorem (1643)."""
    large_in = 2.0
    a, b = 2 / large_in, 2 / small_in
    outer_in = -2 / (2 * a + b - 2 * math.sqrt(a * a + 2 * a * b))
    needed_in = max(outer_in, 2 * large_in) if small_in * 1.5 > large_in else 2 * large_in

    assert places(needed_in * 1.005, [(large_in, 2), (small_in, 1)]) is not None
    assert places(needed_in * 0.999, [(large_in, 2), (small_in, 1)]) is None


@settings(max_examples=6)
@given(rack_in=st.floats(6, 11), large_in=st.floats(2.6, 4.5), share=st.floats(0.55, 1.0))
def test_what_the_search_accepts_stands_free(rack_in: float, large_in: float, share: float) -> None:
    small_in = large_in * share

    rows = frontier(rack_in, large_in, small_in)

    assert [len(row.large) for row in rows] == list(range(most_equal(rack_in, large_in) + 1))
    assert all(len(few.small) > len(more.small) for few, more in pairwise(rows))
    for row in rows:
        circles = [(centre, large_in) for centre in row.large] + [(centre, small_in) for centre in row.small]
        assert overlap(rack_in, circles) < 1e-9


def test_two_sizes_that_are_one_are_packed_nearly_as_well_as_one() -> None:
    """The search against the table: 10 jars, 4 of them a hair narrower, on 1 % more than the least rack."""
    rack_in = 3.8130256313981243 * JAR_IN * 1.01

    assert places(rack_in, [(JAR_IN, 6), (JAR_IN - 1e-9, 4)]) is not None
    assert places(rack_in, [(JAR_IN, 6), (JAR_IN - 0.001, 4)]) is not None


def test_the_search_gives_the_same_answer_every_time() -> None:
    first = frontier(12.375, 3.75, 3.24)
    frontier.cache_clear()

    assert frontier(12.375, 3.75, 3.24) == first


def test_quarts_beside_pints_on_the_rack_of_a_22_qt_canner() -> None:
    """Golden: the most pints found beside none to seven quarts. No source; each is measured above."""
    found = [len(row.small) for row in frontier(12.375, 3.75, 3.24)]

    assert found == [10, 8, 7, 6, 4, 3, 2, 1]


@settings(max_examples=20)
@given(counts=st.tuples(st.integers(0, 5), st.integers(0, 5), st.integers(0, 6)))
def test_three_sizes_stand_free_in_the_order_asked(counts: tuple[int, int, int]) -> None:
    widths = (3.24, 3.75, 2.9)

    found = places(12.375, list(zip(widths, counts, strict=True)))

    if found is not None:
        assert tuple(len(points) for points in found) == counts
        circles = [(centre, width) for width, points in zip(widths, found, strict=True) for centre in points]
        assert overlap(12.375, circles) < 1e-9


def test_the_distance_check_sees_a_touch_too_much_and_a_jar_outside() -> None:
    assert clear(4.0, [((-1.0, 0.0), 2.0), ((1.0, 0.0), 2.0)])
    assert not clear(4.0, [((-0.99, 0.0), 2.0), ((1.0, 0.0), 2.0)])
    assert not clear(4.0, [((1.01, 0.0), 2.0)])


def test_a_rack_that_is_as_good_as_full_is_not_searched() -> None:
    assert frontier(4.0, 3.9, 0.3)[1] == Mixed(large=((0.0, 0.0),), small=())


def test_no_jars_need_no_rack() -> None:
    assert places(12.0, []) == ()
    assert places(12.0, [(3.0, 0)]) == ((),)
    assert frontier(2.0, 3.0, 2.5) == (Mixed(large=(), small=()),)


@pytest.mark.parametrize(
    ("before", "after"),
    [("\n3,2.1547", "\n3,2.2547"), ("\n3,2.1547", "\n3,2.0547"), ("\n1,1.0", "\n31,1.0")],
    ids=["a ratio too large", "a ratio too small", "a row gone"],
)
def test_an_altered_table_is_refused(tmp_path: Path, before: str, after: str) -> None:
    altered = tmp_path / "altered.csv"
    altered.write_text(PACKINGS.read_text(encoding="utf-8").replace(before, after), encoding="utf-8")

    with pytest.raises(TablesDamaged, match="not what was checked in"):
        read_packings(altered)
