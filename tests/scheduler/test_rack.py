"""Jars in canners: the published capacities, layers, water over the jars, own counts, mixed loads."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.canner import Canner
from scheduler.errors import CannerOutOfService, DoesNotFit
from scheduler.jars import SHAPES, JarSize
from scheduler.rack import (
    RACK_CLEARANCE_IN,
    RACK_HEIGHT_IN,
    Place,
    arrange,
    capacity,
    check_size,
    fits,
    is_small_load,
    water_jars,
)
from tests.factories.canners import BOILING_WATER, DIAL, STEAM, WEIGHTED

HALF_PINT, PINT, QUART = JarSize.HALF_PINT, JarSize.PINT, JarSize.QUART
NARROWER = replace(DIAL, inside_diameter_in=12.25)
"""The 21 to 22 qt class: 12.25 in wide and 10.5 in deep are 21.4 qt."""
SMALL_BOILING_WATER = replace(BOILING_WATER, inside_diameter_in=10.1, inside_depth_in=11.2)
WIDE_PINTS = {**SHAPES, PINT: replace(SHAPES[PINT], diameter_in=3.38)}
"""The widest pint on any chart; 3.24 in is computed from a printed circumference."""


def assert_stands(canner: Canner, placed: tuple[Place, ...]) -> None:
    """Measure a layer at a time: nobody overlaps, nobody sticks out, and the stack is below the rim."""
    for layer in {place.layer for place in placed}:
        here = [place for place in placed if place.layer == layer]
        for place in here:
            reach_in = math.hypot(place.x_in, place.y_in) + place.diameter_in / 2
            assert reach_in <= (canner.inside_diameter_in - RACK_CLEARANCE_IN) / 2 + 1e-9
        for one, other in combinations(here, 2):
            apart_in = math.dist((one.x_in, one.y_in), (other.x_in, other.y_in))
            assert apart_in >= (one.diameter_in + other.diameter_in) / 2 - 1e-9
    numbers = sorted({place.layer for place in placed})
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(numbers) <= canner.layers
    tallest = [max(SHAPES[p.jar].height_in for p in placed if p.layer == number) for number in numbers]
    assert sum(tallest) + RACK_HEIGHT_IN * len(numbers) <= canner.inside_depth_in + 1e-9


@pytest.mark.parametrize(
    ("canner", "jar", "holds"),
    [
        # USDA AIB 539 (1994), Recommended Canners; MSU Extension 01600948: 21 to 22 qt: 7 quarts, 18 to 19
        # pints.
        (NARROWER, QUART, 7),
        (NARROWER, PINT, 18),
        # A secondary page, from memory: 24 half-pints.
        (NARROWER, HALF_PINT, 24),
        # Three makers' listings for 23 qt: 7 quarts, 20 pints in two layers, 24 to 26 half-pints.
        (DIAL, QUART, 7),
        (DIAL, PINT, 20),
        (DIAL, HALF_PINT, 26),
        # AIB 539: most boiling-water canners hold 7 quarts or 8 to 9 pints.
        (BOILING_WATER, QUART, 7),
        (BOILING_WATER, PINT, 9),
        # Secondary listing for 15.5 qt, here 10.1 in wide and 11.2 in deep: 4 quarts, 7 pints, 8 half-pints.
        (SMALL_BOILING_WATER, QUART, 4),
        (SMALL_BOILING_WATER, PINT, 7),
        (SMALL_BOILING_WATER, HALF_PINT, 8),
        # Listing for 30 qt, here 12.25 in wide and 14.7 in deep: 14 quarts in two layers.
        (replace(NARROWER, inside_depth_in=14.7), QUART, 14),
    ],
)
def test_the_published_capacities_come_out(canner: Canner, jar: JarSize, holds: int) -> None:
    assert capacity(canner, jar) == holds
    assert fits(canner, {jar: holds})
    assert not fits(canner, {jar: holds + 1})


def test_nine_or_ten_pints_is_a_question_of_the_jar() -> None:
    """Published as 9 and as 10 for canners of one size: 3.38 in and 3.24 in jars on charts."""
    one_layer = replace(DIAL, layers=1)

    assert capacity(one_layer, PINT) == 10
    assert capacity(one_layer, PINT, shapes=WIDE_PINTS) == 9
    assert capacity(DIAL, PINT, shapes=WIDE_PINTS) == 18


def test_quarts_are_never_stacked_in_a_canner_ten_and_a_half_inches_deep() -> None:
    """ "14 quarts in a 21 to 23 qt canner" is wrong: USDA AIB 539 gives 7."""
    assert capacity(replace(DIAL, layers=2), QUART) == 7


def test_two_layers_only_in_a_canner_marked_for_it() -> None:
    """Rule S13."""
    assert capacity(replace(DIAL, layers=1), PINT) == 10
    assert not fits(replace(DIAL, layers=1), {PINT: 11})


@pytest.mark.parametrize(
    ("depth_in", "process_minutes", "holds"),
    [(8.0, 20, 7), (7.99, 20, 0), (8.0, 30, 7), (8.0, 31, 0), (9.0, 31, 7), (8.99, 31, 0), (8.99, None, 0)],
)
def test_water_over_the_jars_stays_under_the_rim(
    depth_in: float, process_minutes: int | None, holds: int
) -> None:
    """1 in over the tops, 2 in when the process exceeds 30 min: USDA AIB 539 through NCHFP."""
    canner = replace(BOILING_WATER, inside_depth_in=depth_in)

    assert capacity(canner, QUART, process_minutes=process_minutes) == holds


def test_water_over_the_jars_is_no_matter_of_pressure_or_steam() -> None:
    assert capacity(replace(WEIGHTED, inside_depth_in=7.0), QUART, process_minutes=90) == 7
    assert capacity(replace(STEAM, inside_depth_in=7.0), QUART, process_minutes=40) == 7


def test_the_kitchens_own_count_replaces_the_geometry() -> None:
    canner = replace(DIAL, own_counts={QUART: 8, PINT: 16})

    assert (capacity(canner, QUART), capacity(canner, PINT), capacity(canner, HALF_PINT)) == (8, 16, 26)
    assert fits(canner, {QUART: 8})
    assert not fits(canner, {PINT: 17})


def test_the_kitchens_own_count_does_not_drive_out_the_water() -> None:
    """11.7 in hold two layers of pints under 1 in of water, but only one layer under 2 in."""
    canner = replace(BOILING_WATER, inside_depth_in=11.7, layers=2, own_counts={PINT: 20})

    assert capacity(canner, PINT, process_minutes=20) == 20
    assert capacity(canner, PINT, process_minutes=35) == 10
    assert capacity(replace(canner, inside_depth_in=7.0, own_counts={PINT: 9}), PINT) == 0


def test_a_load_of_several_sizes_takes_its_share_of_the_kitchens_own_counts() -> None:
    canner = replace(DIAL, own_counts={QUART: 6})

    assert fits(DIAL, {QUART: 4, PINT: 4})
    assert not fits(canner, {QUART: 4, PINT: 7})
    assert fits(canner, {QUART: 4, PINT: 3})


def test_jars_of_an_own_count_are_drawn_as_wide_as_it_leaves_room_for() -> None:
    canner = replace(DIAL, own_counts={QUART: 8})

    placed = arrange(canner, {QUART: 8})

    assert len(placed) == 8
    assert all(place.diameter_in < SHAPES[QUART].diameter_in for place in placed)
    assert_stands(canner, placed)


def test_a_second_layer_stands_on_jars_of_one_height() -> None:
    placed = arrange(DIAL, {PINT: 8, HALF_PINT: 14})

    assert Counter((place.layer, place.jar) for place in placed) == {
        (1, HALF_PINT): 13,
        (2, HALF_PINT): 1,
        (2, PINT): 8,
    }
    assert_stands(DIAL, placed)


@settings(max_examples=60)
@given(
    canner=st.sampled_from([DIAL, NARROWER, replace(DIAL, layers=1), STEAM]),
    jars=st.dictionaries(st.sampled_from([HALF_PINT, PINT, QUART]), st.integers(0, 14)),
)
def test_what_fits_stands_and_what_does_not_is_refused(canner: Canner, jars: dict[JarSize, int]) -> None:
    if fits(canner, jars):
        placed = arrange(canner, jars)
        assert Counter(place.jar for place in placed) == Counter(jars)
        assert_stands(canner, placed)
    else:
        with pytest.raises(DoesNotFit):
            arrange(canner, jars)


@settings(max_examples=30)
@given(
    quarts=st.integers(0, 7), pints=st.integers(0, 10), fewer=st.tuples(st.integers(0, 3), st.integers(0, 3))
)
def test_a_load_that_fits_still_fits_with_fewer_jars(quarts: int, pints: int, fewer: tuple[int, int]) -> None:
    smaller = {QUART: max(0, quarts - fewer[0]), PINT: max(0, pints - fewer[1])}

    assert fits(DIAL, smaller) or not fits(DIAL, {QUART: quarts, PINT: pints})


@given(
    jar=st.sampled_from(list(JarSize)),
    diameter_in=st.floats(8, 18),
    depth_in=st.floats(4, 16),
    more_in=st.floats(0, 4),
)
def test_a_larger_canner_never_holds_fewer(
    jar: JarSize, diameter_in: float, depth_in: float, more_in: float
) -> None:
    small = replace(DIAL, inside_diameter_in=diameter_in, inside_depth_in=depth_in)
    wider = replace(small, inside_diameter_in=diameter_in + more_in)
    deeper = replace(small, inside_depth_in=depth_in + more_in)

    assert capacity(small, jar) <= min(capacity(wider, jar), capacity(deeper, jar))


def test_a_jar_wider_than_the_rack_spoils_the_whole_load() -> None:
    narrow = replace(DIAL, inside_diameter_in=4.2)

    assert fits(narrow, {PINT: 2})
    assert not fits(narrow, {PINT: 1, JarSize.HALF_GALLON: 1})


def test_no_jars_fit_anywhere() -> None:
    assert fits(DIAL, {PINT: 0})
    assert arrange(DIAL, {}) == ()
    assert water_jars(DIAL, {}) == 0


@pytest.mark.parametrize(
    ("canner", "jars", "said"),
    [
        (DIAL, {QUART: 8}, "8 quart jars do not fit into Old Dial at once; it holds at most 7 quart jars"),
        (DIAL, {PINT: 10_000}, "at most 20 pint jars"),
        (DIAL, {PINT: 10_000, QUART: 1}, "at most 20 pint jars or 7 quart jars"),
        (DIAL, {PINT: -1}, "-1 pint"),
        (replace(DIAL, inside_depth_in=6.0), {QUART: 1}, "too small for quart jars"),
        (replace(BOILING_WATER, inside_depth_in=8.5), {QUART: 1}, "quart jars with the water they need"),
    ],
)
def test_a_refusal_says_what_would_fit(canner: Canner, jars: dict[JarSize, int], said: str) -> None:
    with pytest.raises(DoesNotFit, match=said):
        arrange(canner, jars)


@pytest.mark.parametrize(
    ("jars", "fill_up"),
    [({QUART: 2}, 5), ({QUART: 7}, 0), ({PINT: 4}, 16), ({QUART: 4, PINT: 2}, 2)],
)
def test_a_part_load_is_filled_up_with_jars_of_water(jars: dict[JarSize, int], fill_up: int) -> None:
    """Rule S13. Source: extension answers that cite a jar maker (2016)."""
    assert water_jars(DIAL, jars) == fill_up


@pytest.mark.parametrize(
    ("jars", "small"),
    [
        ({QUART: 1}, True),
        ({QUART: 2}, False),
        ({PINT: 3}, True),
        ({PINT: 4}, False),
        ({QUART: 1, PINT: 1}, True),
        ({QUART: 1, HALF_PINT: 2}, False),
        ({JarSize.PINT_AND_HALF: 2}, False),
        ({}, False),
    ],
)
def test_fewer_than_two_quarts_or_four_pints_under_pressure_is_a_small_load(
    jars: dict[JarSize, int], small: bool
) -> None:
    """Rule S13. A jar maker (2016); USDA and NCHFP publish no minimum."""
    assert is_small_load(DIAL, jars) is small
    assert not is_small_load(BOILING_WATER, jars)


def test_a_pressure_canner_must_hold_four_quarts() -> None:
    """NCHFP: the smallest that counts as a pressure canner holds 4 quarts upright."""
    check_size(replace(DIAL, inside_diameter_in=9.2))
    check_size(replace(BOILING_WATER, inside_diameter_in=8.0))
    with pytest.raises(CannerOutOfService, match="does not hold 4 quarts"):
        check_size(replace(DIAL, inside_diameter_in=9.1))
