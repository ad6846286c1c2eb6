"""Lot codes: one for each portion, and read back from what is said or typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitchen.labels.lot_code import LETTERS, lot_code, mark_of, place_of, read_lot

# Site, product, year and day, canner and number, as the loads' codes are made.
PART = st.text("ABCXYZ0189", min_size=1, max_size=6)
LOAD_CODES = st.builds(
    lambda site, product, day, canner, number: f"{site}-{product}-{day:05}-{canner}-{number}",
    PART,
    PART,
    st.integers(26001, 99366),
    PART,
    st.integers(1, 40),
)
PLACES = st.integers(1, 2000)


@given(LOAD_CODES, PLACES, LOAD_CODES, PLACES)
def test_two_portions_never_share_a_code(load: str, place: int, other: str, beside: int) -> None:
    same = (load, place) == (other, beside)
    assert (lot_code(load, place) == lot_code(other, beside)) is same


@given(LOAD_CODES, PLACES, st.sampled_from(["-", " ", " - ", ". "]), st.booleans())
def test_a_code_is_read_back_as_it_is_said(load: str, place: int, between: str, small: bool) -> None:
    said = f" {lot_code(load, place).replace('-', between)} "
    assert read_lot(said.lower() if small else said) == (load, place)


@given(LOAD_CODES)
def test_the_code_of_a_load_names_all_its_lots(load: str) -> None:
    assert read_lot(load) == (load, None)


@given(PLACES)
def test_marks_are_told_apart_from_numbers(place: int) -> None:
    assert place_of(mark_of(place)) == place
    assert not set(mark_of(place)) & set("IO0123456789")


@pytest.mark.parametrize(
    ("place", "mark"), [(1, "A"), (8, "H"), (9, "J"), (24, "Z"), (25, "AA"), (48, "AZ"), (49, "BA")]
)
def test_marks(place: int, mark: str) -> None:
    assert (mark_of(place), len(LETTERS)) == (mark, 24)


def test_places_are_counted_from_one() -> None:
    with pytest.raises(ValueError, match="counted from 1"):
        mark_of(0)


@pytest.mark.parametrize("said", ["", "-", "A", "?!"])
def test_what_is_no_code_names_no_place(said: str) -> None:
    assert read_lot(said)[1] is None
