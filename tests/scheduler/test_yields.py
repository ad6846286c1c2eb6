"""Jars from weights and containers. Source: the Quantity paragraphs of USDA AIB 539, Guides 2 to 4."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.errors import BadAmount, NoPublishedYield, UnknownFood
from scheduler.foods import foods
from scheduler.jars import SHAPES, JarSize
from scheduler.yields import JarRange, Unit, jars_from, units_for
from tests.scheduler.printed_tables import rows

COUNTABLE = [(food.id, unit) for food in foods() for unit in units_for(food.id) if unit is not Unit.JARS]


def ends(found: JarRange) -> tuple[int, int]:
    return found.low, found.high


@pytest.mark.parametrize(
    ("food", "unit", "jar", "low", "high"),
    [
        ("applesauce", "bushel", JarSize.QUART, 14, 19),
        ("applesauce", "bushel", JarSize.PINT, 28, 38),
        ("snap_beans", "bushel", JarSize.QUART, 12, 20),
        ("cherries_whole", "lug", JarSize.QUART, 8, 12),
        ("berries_whole", "crate", JarSize.QUART, 18, 24),
        ("potatoes_white", "sack", JarSize.QUART, 18, 22),
        ("corn_cream_style", "bushel", JarSize.PINT, 12, 20),
        ("peppers", "bushel", JarSize.PINT, 20, 30),
        ("peppers", "bushel", JarSize.HALF_PINT, 40, 60),
        ("apples_sliced", "bushel", JarSize.PINT_AND_HALF, 21, 26),  # 16 to 19 quarts by 0.75: 21.3 to 25.3
    ],
)
def test_a_container_makes_what_is_printed(food: str, unit: str, jar: JarSize, low: int, high: int) -> None:
    assert ends(jars_from(food, 1, unit, jar)) == (low, high)


def test_sauce_covers_thick_and_thin() -> None:
    """AIB 539 Guide 3 p. 3-8: a bushel makes 10 to 12 quarts of thin sauce, 7 to 9 of thick."""
    assert ends(jars_from("tomato_sauce_standard", 1, Unit.BUSHEL, JarSize.QUART)) == (7, 12)


def test_three_bushels_of_apples_cover_what_a_church_kitchen_made() -> None:
    """A published applesauce day: three bushels, 105 pints."""
    found = jars_from("applesauce", 3, Unit.BUSHEL, JarSize.PINT)
    assert found.low <= 105 <= found.high


def test_asian_pears_plan_for_the_fewest_pounds_a_load() -> None:
    """AIB 539 Guide 2 p. 2-20: 17 to 19 pounds for 7 quarts, 11 to 13 pounds for 9 pints."""
    assert ends(jars_from("pears_asian", 17, Unit.POUNDS, JarSize.QUART)) == (5, 7)
    # 9 pints from 11 pounds by the pint figure; 9.06 by the quart figure, and the upper end is rounded up.
    assert ends(jars_from("pears_asian", 11, Unit.POUNDS, JarSize.PINT)) == (7, 10)


@pytest.mark.parametrize(("column", "quarts"), [("lb_per_load_7_quarts", 7), ("lb_per_load_9_pints", 4.5)])
def test_a_load_of_pounds_makes_at_least_that_load(column: str, quarts: float) -> None:
    """The range holds the printed canner load for every food that has one."""
    for row in rows("yields"):
        food = row["food_id"].removesuffix("_thin").removesuffix("_thick")
        if not row[column] or food == "cucumbers_pickling":
            continue
        found = jars_from(food, float(row[column]), Unit.POUNDS, JarSize.QUART)
        assert found.low <= quarts <= found.high, food


def test_the_weight_of_a_container_spans_the_container() -> None:
    for row in rows("yields"):
        food = row["food_id"].removesuffix("_thin").removesuffix("_thick")
        if not row["container"] or food == "cucumbers_pickling":
            continue
        by_container = jars_from(food, 1, row["container"], JarSize.PINT)
        by_weight = jars_from(food, float(row["weight_lb"]), Unit.POUNDS, JarSize.PINT)
        assert by_weight.low <= by_container.low <= by_container.high <= by_weight.high, food


def test_every_yield_is_used_but_the_one_of_no_process() -> None:
    used = {source for food, unit in COUNTABLE for source in jars_from(food, 1, unit, JarSize.PINT).sources}
    left = {row["food_id"] for row in rows("yields") if row["source"] not in used}
    assert left == {"cucumbers_pickling"}


def test_what_is_printed_beside_a_yield_comes_with_it() -> None:
    assert jars_from("beets", 1, Unit.BUSHEL, JarSize.PINT).notes == ("without tops",)


@given(
    st.sampled_from(COUNTABLE),
    st.decimals(min_value="0.1", max_value="500", places=1),
    st.decimals(min_value="0.1", max_value="500", places=1),
    st.sampled_from(JarSize),
)
def test_more_food_never_makes_fewer_jars(
    counted: tuple[str, Unit], less: Decimal, more: Decimal, jar: JarSize
) -> None:
    food, unit = counted
    small, large = (jars_from(food, float(amount), unit, jar) for amount in sorted((less, more)))
    assert 0 <= small.low <= small.high
    assert small.high >= 1
    assert small.low <= large.low
    assert small.high <= large.high


@given(
    st.sampled_from(COUNTABLE),
    st.decimals(min_value="0.1", max_value="500", places=1),
    st.sampled_from(JarSize),
    st.sampled_from(JarSize),
)
def test_another_jar_size_holds_the_same_food(
    counted: tuple[str, Unit], amount: Decimal, one: JarSize, other: JarSize
) -> None:
    """By volume, the ends in two jar sizes differ by less than the one jar that rounding may add or take."""
    food, unit = counted
    first, second = (jars_from(food, float(amount), unit, jar) for jar in (one, other))
    assert first.high * SHAPES[one].volume_qt > (second.high - 1) * SHAPES[other].volume_qt - 1e-9
    assert first.low * SHAPES[one].volume_qt < (second.low + 1) * SHAPES[other].volume_qt + 1e-9


@given(st.integers(min_value=1, max_value=2000), st.sampled_from(JarSize))
def test_jars_are_jars(count: int, jar: JarSize) -> None:
    assert jars_from("sauerkraut", count, Unit.JARS, jar) == JarRange(low=count, high=count)


@pytest.mark.parametrize("amount", [0, -1, math.nan, math.inf])
@pytest.mark.parametrize("unit", [Unit.JARS, Unit.POUNDS])
def test_an_amount_of_nothing_is_refused(amount: float, unit: Unit) -> None:
    with pytest.raises(BadAmount, match="The amount is"):
        jars_from("applesauce", amount, unit, JarSize.PINT)


def test_part_of_a_jar_is_refused() -> None:
    with pytest.raises(BadAmount, match=r"3\.5 jars are not whole jars"):
        jars_from("applesauce", 3.5, Unit.JARS, JarSize.PINT)


@pytest.mark.parametrize("unit", ["pounds", "bushel"])
def test_a_food_without_a_yield_is_counted_in_jars(unit: str) -> None:
    assert units_for("sauerkraut") == (Unit.JARS,)
    with pytest.raises(
        NoPublishedYield, match=r"No yield is published for Sauerkraut.*Give the number of jars"
    ):
        jars_from("sauerkraut", 3, unit, JarSize.QUART)


@pytest.mark.parametrize("unit", ["lug", "cartload"])
def test_another_unit_is_refused_with_those_that_are_printed(unit: str) -> None:
    with pytest.raises(NoPublishedYield, match="Give it in jars, pounds, bushel"):
        jars_from("applesauce", 3, unit, JarSize.QUART)


def test_an_unknown_food_is_refused() -> None:
    with pytest.raises(UnknownFood):
        jars_from("cucumbers_pickling", 1, Unit.BUSHEL, JarSize.QUART)
