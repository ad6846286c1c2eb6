"""Moments come back from PostgreSQL as the driver itself would read them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MOMENTS = st.timedeltas(timedelta(days=-700_000), timedelta(days=2_900_000)).map(EPOCH.__add__)


@given(moments=st.lists(MOMENTS, min_size=1, max_size=20))
def test_every_moment_comes_back_as_it_was(moments: list[datetime]) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT unnest(%s::timestamptz[])", [moments])
        found = [row[0] for row in cursor.fetchall()]
    assert found == moments
    assert {one.tzinfo for one in found} == {UTC}


def test_short_fractions_and_times_of_another_zone_too() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT '2026-09-12 12:00:00.5-06'::timestamptz, '2026-09-12 12:00+00'::timestamptz")
        first, second = cursor.fetchone()
    assert first == datetime(2026, 9, 12, 18, 0, 0, 500_000, tzinfo=UTC)
    assert first - second == timedelta(hours=6, microseconds=500_000)


def test_they_are_read_by_the_quick_reader() -> None:
    connection.ensure_connection()
    loader = connection.connection.adapters.get_loader(1184, 0)
    assert loader.__name__ == "MomentLoader"
