"""Many people booking at once: nobody gets a canner twice, and every loser hears so in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from random import Random
from threading import Barrier, Event

import pytest
from django.db import connection, transaction

from kitchen.equipment.canner_time import WantedTime, book_time, book_times, booking
from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.errors import SlotTaken
from tests.factories.sites import make_site

NINE = datetime(2026, 9, 12, 15, tzinfo=UTC)
THREADS, TRIES = 8, 30


def race(attempt: Callable[[Random], object]) -> Counter[str]:
    """Let every thread try many times at once; how often each outcome came."""
    start = Barrier(THREADS)

    def run(seed: int) -> list[str]:
        random = Random(seed)  # noqa: S311  (a seed makes the race repeatable; nothing is kept secret)
        start.wait(timeout=30)
        outcomes = []
        try:
            for _ in range(TRIES):
                try:
                    attempt(random)
                except SlotTaken:
                    outcomes.append("taken")
                else:
                    outcomes.append("booked")
        finally:
            connection.close()
        return outcomes

    with ThreadPoolExecutor(THREADS) as pool:
        results = list(pool.map(run, range(THREADS)))
    return Counter(outcome for outcomes in results for outcome in outcomes)


def check_no_overlap(canner: Canner) -> None:
    """No two standing rows of the canner share an instant."""
    spans = CannerTime.objects.filter(canner=canner, occupies=True).order_by("starts_at")
    for before, after in pairwise(spans.values_list("starts_at", "ends_at")):
        assert before[1] <= after[0]


@pytest.mark.django_db(transaction=True)
def test_a_race_for_one_canner() -> None:
    site = make_site()

    def attempt(random: Random) -> None:
        start = NINE + timedelta(minutes=random.randrange(0, 24 * 60, 10))
        booking(book_time)(
            canner=site.weighted,
            starts_at=start,
            ends_at=start + timedelta(minutes=random.choice((20, 60, 110))),
            purpose=Purpose.SLOT,
        )

    outcomes = race(attempt)
    assert sum(outcomes.values()) == THREADS * TRIES
    assert outcomes["booked"] == CannerTime.objects.count() > 0
    assert outcomes["taken"] > 0
    check_no_overlap(site.weighted)


@pytest.mark.django_db(transaction=True)
def test_a_race_for_two_canners_in_any_order() -> None:
    """Locks are taken in the order of ids, so two people who want both in opposite order do not block each
    other.
    """
    site = make_site()

    def attempt(random: Random) -> None:
        start = NINE + timedelta(minutes=random.randrange(0, 24 * 60, 10))
        canners = [site.weighted, site.dial]
        random.shuffle(canners)
        booking(book_times)(
            wanted=[
                WantedTime(canner=canner, starts_at=start, ends_at=start + timedelta(hours=1))
                for canner in canners
            ],
            purpose=Purpose.LOAD,
        )

    outcomes = race(attempt)
    assert 2 * outcomes["booked"] == CannerTime.objects.count() > 0
    assert CannerTime.objects.filter(canner=site.weighted).count() == outcomes["booked"]
    check_no_overlap(site.weighted)
    check_no_overlap(site.dial)


@pytest.mark.django_db(transaction=True)
def test_a_race_for_one_burner() -> None:
    site = make_site()

    def attempt(random: Random) -> None:
        start = NINE + timedelta(minutes=random.randrange(0, 24 * 60, 10))
        booking(book_time)(
            canner=random.choice((site.boiling, site.steamer)),
            starts_at=start,
            ends_at=start + timedelta(minutes=40),
            purpose=Purpose.SLOT,
        )

    race(attempt)
    spans = CannerTime.objects.order_by("starts_at").values_list("starts_at", "ends_at")
    assert all(before[1] <= after[0] for before, after in pairwise(spans))


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_race_without_locks_is_still_refused_in_words() -> None:
    """Past the advisory locks the constraint alone decides; a deadlock is tried again and then is a refusal."""
    site = make_site()

    def attempt(random: Random) -> None:
        start = NINE + timedelta(minutes=random.randrange(0, 6 * 60, 10))
        booking(CannerTime.objects.create)(
            kitchen=site.kitchen,
            canner=site.weighted,
            starts_at=start,
            ends_at=start + timedelta(hours=1),
            purpose=Purpose.SLOT,
        )

    outcomes = race(attempt)
    assert sum(outcomes.values()) == THREADS * TRIES
    check_no_overlap(site.weighted)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_deadlock_is_tried_again() -> None:
    """Two transactions take two rows in opposite order: the database breaks one off, which then succeeds."""
    site = make_site()
    both_hold_one = Barrier(2)
    tries: Counter[int] = Counter()

    def touch_both(first: Canner, second: Canner) -> None:
        tries[first.pk] += 1
        Canner.objects.select_for_update().get(pk=first.pk)
        if tries[first.pk] == 1:
            both_hold_one.wait(timeout=30)
        Canner.objects.select_for_update().get(pk=second.pk)

    def run(canners: tuple[Canner, Canner]) -> None:
        try:
            booking(touch_both)(*canners)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(run, [(site.weighted, site.dial), (site.dial, site.weighted)]))
    assert sorted(tries.values()) == [1, 2]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_deadlock_inside_a_caller_s_transaction_is_a_refusal() -> None:
    """The caller's transaction is lost; only the caller can begin again."""
    site = make_site()
    both_hold_one = Barrier(2)

    def touch_both(first: Canner, second: Canner) -> None:
        Canner.objects.select_for_update().get(pk=first.pk)
        both_hold_one.wait(timeout=30)
        Canner.objects.select_for_update().get(pk=second.pk)

    def run(canners: tuple[Canner, Canner]) -> str:
        try:
            with transaction.atomic():
                booking(touch_both)(*canners)
        except SlotTaken:
            return "taken"
        finally:
            connection.close()
        return "done"

    with ThreadPoolExecutor(2) as pool:
        outcomes = list(pool.map(run, [(site.weighted, site.dial), (site.dial, site.weighted)]))
    assert sorted(outcomes) == ["done", "taken"]


@pytest.mark.sqlite
@pytest.mark.django_db(transaction=True)
def test_a_writer_who_found_no_gap_tries_again() -> None:
    """On SQLite writers take turns by chance; one that waited for its whole time has only had bad luck."""
    site = make_site()
    locks, free, tries = Event(), Event(), Counter[str]()

    def hold() -> None:
        with transaction.atomic():
            locks.set()
            assert free.wait(30)
        connection.close()

    def book() -> CannerTime:
        tries["inside"] += 1
        return book_time(
            canner=site.weighted, starts_at=NINE, ends_at=NINE + timedelta(hours=1), purpose=Purpose.SLOT
        )

    def begin(*given: object) -> None:
        tries["begun"] += 1
        if tries["begun"] == 2:
            free.set()
            holder.result(timeout=30)

    with ThreadPoolExecutor(1) as pool:
        connection.ensure_connection()
        holder = pool.submit(hold)
        assert locks.wait(30)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 50")
        with connection.execute_wrapper(lambda execute, sql, *rest: _noting(begin, execute, sql, *rest)):
            booked = booking(book)()
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 20000")
    assert booked.occupies
    assert tries == {"begun": 2, "inside": 1}


def _noting(
    begin: Callable[[], None],
    execute: Callable[..., object],
    sql: str,
    params: object,
    many: bool,
    context: object,
) -> object:
    if sql.startswith("BEGIN"):
        begin()
    return execute(sql, params, many, context)
