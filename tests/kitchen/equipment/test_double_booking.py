"""No canner is booked twice: by the database itself, on both databases, and by the action above it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from kitchen.equipment.canner_time import WantedTime, book_time, book_times, booking, give_up_times
from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.errors import BadTime, SlotTaken
from tests.factories.sites import Site, make_site

NINE = datetime(2026, 9, 12, 15, tzinfo=UTC)
"""Nine o'clock at the kitchen."""
HOUR = timedelta(hours=1)
TICK = timedelta(microseconds=1)


@pytest.fixture
def site() -> Site:
    return make_site()


def take(canner: Canner, start: datetime, end: datetime, *, occupies: bool = True) -> CannerTime:
    """A row written past every action."""
    return CannerTime.objects.create(
        kitchen=canner.kitchen,
        canner=canner,
        starts_at=start,
        ends_at=end,
        purpose=Purpose.SLOT,
        occupies=occupies,
    )


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("start", "end"),
    [
        (NINE, NINE + HOUR),
        (NINE - HOUR, NINE + TICK),
        (NINE + HOUR - TICK, NINE + 2 * HOUR),
        (NINE + HOUR / 4, NINE + HOUR / 2),
        (NINE - HOUR, NINE + 2 * HOUR),
    ],
)
def test_an_overlap_is_refused_by_the_database(site: Site, start: datetime, end: datetime) -> None:
    take(site.weighted, NINE, NINE + HOUR)
    with pytest.raises(IntegrityError, match="canner_time_no_double_booking"), transaction.atomic():
        take(site.weighted, start, end)


@pytest.mark.django_db
def test_touching_times_other_canners_and_times_given_up_pass(site: Site) -> None:
    take(site.weighted, NINE, NINE + HOUR)
    take(site.weighted, NINE - HOUR, NINE)
    take(site.weighted, NINE + HOUR, NINE + 2 * HOUR)
    take(site.dial, NINE, NINE + HOUR)
    take(site.weighted, NINE, NINE + HOUR, occupies=False)
    assert CannerTime.objects.count() == 5


@pytest.mark.django_db
def test_moving_a_time_or_taking_it_again_is_refused_too(site: Site) -> None:
    take(site.weighted, NINE, NINE + HOUR)
    later = take(site.weighted, NINE + HOUR, NINE + 2 * HOUR)
    given_up = take(site.weighted, NINE, NINE + HOUR, occupies=False)
    with pytest.raises(IntegrityError), transaction.atomic():
        CannerTime.objects.filter(pk=later.pk).update(starts_at=NINE + HOUR / 2)
    with pytest.raises(IntegrityError), transaction.atomic():
        CannerTime.objects.filter(pk=given_up.pk).update(occupies=True)
    CannerTime.objects.filter(pk=later.pk).update(ends_at=NINE + 3 * HOUR)


@pytest.mark.django_db
def test_raw_statements_and_bulk_writes_are_refused(site: Site) -> None:
    time = take(site.weighted, NINE, NINE + HOUR)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO equipment_cannertime (kitchen_id, canner_id, starts_at, ends_at, purpose, occupies) "
            "SELECT kitchen_id, canner_id, starts_at, ends_at, purpose, occupies FROM equipment_cannertime"
        )
    time.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        CannerTime.objects.bulk_create([time])
    assert CannerTime.objects.count() == 1


@pytest.mark.django_db
def test_an_end_that_is_not_after_the_start_is_refused(site: Site) -> None:
    for end in (NINE, NINE - HOUR):
        with pytest.raises(IntegrityError), transaction.atomic():
            take(site.weighted, NINE, end)
        with pytest.raises(BadTime):
            book_time(canner=site.weighted, starts_at=NINE, ends_at=end, purpose=Purpose.SLOT)


@pytest.mark.django_db
def test_a_taken_canner_is_refused_with_what_is_in_the_way(site: Site) -> None:
    take(site.weighted, NINE, NINE + HOUR)
    take(site.weighted, NINE + 2 * HOUR, NINE + 3 * HOUR)
    with pytest.raises(SlotTaken, match="Sat 12 Sep 09:00 to 10:00, Sat 12 Sep 11:00 to 12:00") as refusal:
        book_time(canner=site.weighted, starts_at=NINE, ends_at=NINE + 3 * HOUR, purpose=Purpose.SLOT)
    assert refusal.value.clashes == ((NINE, NINE + HOUR), (NINE + 2 * HOUR, NINE + 3 * HOUR))


@pytest.mark.django_db
def test_two_canners_on_one_burner_are_not_used_at_once(site: Site) -> None:
    take(site.boiling, NINE, NINE + HOUR)
    with pytest.raises(SlotTaken, match="The burner of"):
        book_time(canner=site.steamer, starts_at=NINE, ends_at=NINE + HOUR, purpose=Purpose.SLOT)
    book_time(canner=site.steamer, starts_at=NINE + HOUR, ends_at=NINE + 2 * HOUR, purpose=Purpose.SLOT)


@pytest.mark.django_db
def test_several_canners_are_taken_all_or_none(site: Site) -> None:
    take(site.dial, NINE, NINE + HOUR)
    wanted = [
        WantedTime(canner=canner, starts_at=NINE, ends_at=NINE + HOUR)
        for canner in (site.weighted, site.dial)
    ]
    with pytest.raises(SlotTaken):
        booking(book_times)(wanted=wanted, purpose=Purpose.LOAD)
    assert CannerTime.objects.count() == 1


@pytest.mark.django_db
def test_the_database_s_own_refusal_becomes_slot_taken(site: Site) -> None:
    """What a race would look like: the row comes between the look and the write."""
    take(site.weighted, NINE, NINE + HOUR)
    with pytest.raises(SlotTaken) as refusal:
        booking(take)(site.weighted, NINE, NINE + HOUR)
    assert refusal.value.clashes == ()


@pytest.mark.django_db
def test_other_refusals_of_the_database_are_not_hidden(site: Site) -> None:
    with pytest.raises(IntegrityError, match="canner_time_ends_after_start"):
        booking(take)(site.weighted, NINE, NINE)


@pytest.mark.django_db
def test_time_given_up_can_be_taken_again(site: Site) -> None:
    time = book_time(canner=site.weighted, starts_at=NINE, ends_at=NINE + HOUR, purpose=Purpose.SLOT)
    give_up_times([time])
    book_time(canner=site.weighted, starts_at=NINE, ends_at=NINE + HOUR, purpose=Purpose.SLOT)
    assert CannerTime.objects.filter(occupies=True).count() == 1


class TestAgainstTheDefinition(TestCase):
    """Any sequence of bookings leaves what the plainest definition of an overlap leaves."""

    site: Site

    @classmethod
    def setUpTestData(cls) -> None:
        cls.site = make_site()

    # No time limit: how long a database takes proves nothing.
    @settings(max_examples=50)
    @given(st.lists(st.tuples(st.integers(0, 12), st.integers(1, 5), st.booleans()), min_size=1, max_size=12))
    def test_bookings_stand_exactly_when_free(self, wishes: list[tuple[int, int, bool]]) -> None:
        CannerTime.objects.all().delete()
        standing: list[tuple[int, int, bool]] = []
        for start, length, first in wishes:
            end = start + length
            free = all(
                other_end <= start or end <= other_start or other_first is not first
                for other_start, other_end, other_first in standing
            )
            canner = self.site.weighted if first else self.site.dial
            try:
                booking(book_time)(
                    canner=canner,
                    starts_at=NINE + start * HOUR,
                    ends_at=NINE + end * HOUR,
                    purpose=Purpose.SLOT,
                )
            except SlotTaken:
                assert not free
            else:
                assert free
                standing.append((start, end, first))
        assert CannerTime.objects.count() == len(standing)
