"""Which canners the search may use: one whose gauge is trusted for as long as the kitchen is open (rule S8)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduler.interval import Span
from scheduler.search.options import options_of
from tests.factories.days import BLUE, GREY, make_day

CHECKED = replace(GREY, gauge_checked_on=date(2025, 9, 12))
MIDNIGHT = 18 * 60
"""The day's minutes count from six in the morning."""


@pytest.mark.parametrize(("closes", "usable"), [(MIDNIGHT, True), (MIDNIGHT + 1, False)])
def test_a_gauge_is_trusted_up_to_the_last_minute_before_midnight(closes: int, *, usable: bool) -> None:
    day = make_day(canners=(CHECKED, BLUE), opening=(Span(0, closes),))
    assert day.last_date == date(2026, 9, 12 if usable else 13)
    found = options_of(day)
    assert any(GREY.name in why for why in found.out_of_service) is not usable
    used = {day.canners[option.canner].id for row in found.by_batch for option in row}
    assert (GREY.id in used) is usable
