"""Minutes as bits, held against plain lists of minutes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from scheduler.interval import Span
from scheduler.search.minutes import Count, beginnings, block, count_of, first_from, mask_of, shifted

END = 40
spans = st.builds(
    lambda start, length: Span(start, start + length), st.integers(0, END - 1), st.integers(1, 12)
).filter(lambda span: span.end <= END)


def minutes(mask: int) -> set[int]:
    return {minute for minute in range(END + 20) if mask >> minute & 1}


@given(st.lists(spans, max_size=5))
def test_a_mask_holds_the_minutes_of_its_spans(many: list[Span]) -> None:
    assert minutes(mask_of(many)) == {minute for span in many for minute in range(span.start, span.end)}


@given(st.lists(spans, max_size=5), st.integers(1, 15))
def test_a_stretch_begins_where_all_its_minutes_are_free(many: list[Span], length: int) -> None:
    free = minutes(mask_of(many))
    expected = {start for start in free if all(start + step in free for step in range(length))}
    assert minutes(beginnings(mask_of(many), length)) == expected


@given(st.lists(spans, max_size=5), st.integers(0, END))
def test_the_first_minute_from_here(many: list[Span], here: int) -> None:
    later = [minute for minute in minutes(mask_of(many)) if minute >= here]
    assert first_from(mask_of(many), here) == (min(later) if later else None)


@given(
    st.lists(st.tuples(spans, st.integers(1, 3)), max_size=5), st.lists(spans, max_size=6), st.integers(1, 4)
)
def test_a_count_says_where_more_is_too_much(
    capacity: list[tuple[Span, int]], uses: list[Span], more: int
) -> None:
    count = count_of(capacity, END)
    room = {m: sum(amount for span, amount in capacity if span.start <= m < span.end) for m in range(END)}
    for use in uses:
        count.add(block(use.start, use.end))
        for minute in range(use.start, use.end):
            room[minute] -= 1
    unfit = count.unfit(more)
    assert {minute for minute in range(END) if not unfit >> minute & 1} == {
        m for m in range(END) if room[m] >= more
    }


def test_a_copy_of_a_count_is_independent() -> None:
    count = Count(1)
    count.copy().add(block(0, 5))
    assert count.unfit(1) == 0


def test_masks_move_both_ways() -> None:
    assert minutes(shifted(block(3, 5), 2)) == {5, 6}
    assert minutes(shifted(block(3, 5), -2)) == {1, 2}


def test_a_block_before_the_day_is_cut_off() -> None:
    assert minutes(block(-3, 2)) == {0, 1}
    assert block(4, 4) == 0
