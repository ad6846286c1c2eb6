"""What many kitchens cost, reckoned from what was measured."""

from __future__ import annotations

import pytest
from django.test import Client

from kitchen.bench.sizes import KITCHENS, REMINDERS, Constants, measure, table
from kitchen.reminders.models import Reminder, State

MEASURED = Constants(page_ms=50, feed_ms=20, reminder_ms=10, bytes_a_portion=5000, process_mb=300)


def column(number: int, found: Constants) -> list[float]:
    rows = [line.split("|") for line in table(found)][2:]
    return [float(row[number].split()[0].replace(",", "")) for row in rows]


def test_a_hundred_thousand_kitchens_by_hand() -> None:
    """5 million people, 4 x 25 million pages in 43,200 s and 120 million fetches in 86,400 s, half a processor busy."""
    pages, fetches = 4 * 25_000_000 / 43_200, 120_000_000 / 86_400
    assert column(2, MEASURED)[-1] == pytest.approx(pages + fetches, abs=0.1)
    assert column(3, MEASURED)[-1] == pytest.approx((pages * 50 + fetches * 20) / 500, abs=1)
    assert column(4, MEASURED)[-1] == pytest.approx(100_000 * 4000 / 40 / 3600, abs=0.01)
    assert column(7, MEASURED)[-1] == pytest.approx(1000)


def test_few_kitchens_have_two_of_each_and_more_never_need_less() -> None:
    assert (column(3, MEASURED)[0], column(5, MEASURED)[0]) == (2, 2)
    assert column(1, MEASURED) == list(KITCHENS)
    for number in range(2, 8):
        assert column(number, MEASURED) == sorted(column(number, MEASURED))


@pytest.mark.django_db(transaction=True)
def test_what_is_measured_was_done(client: Client) -> None:
    found = measure(1, client)
    assert Reminder.objects.filter(state=State.DONE).count() == REMINDERS
    assert min(found.page_ms, found.feed_ms, found.reminder_ms, found.process_mb) > 0
    assert found.bytes_a_portion >= 0
