"""Counting sealed, unsealed and broken jars, and what becomes of the unsealed (rule S11)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitchen.batches.models import BatchState
from kitchen.errors import AlreadyDecided, BadTime, NotAllowed, TooEarly, WrongCount
from kitchen.members.models import User
from kitchen.planning.models import LoadPhase, LoadPortion, LoadState
from kitchen.reminders.models import Reminder, State
from kitchen.seals.actions import Counted, decide_offer, expire_offers, record_seal_check
from kitchen.seals.models import OfferState, ReprocessOffer, SealCheck
from kitchen.seals.queries import open_offers, standing_check, to_count, to_count_by
from kitchen.seals.rules import COUNT_AFTER, REFRIGERATE, VALID_OFFER_NEXT, can_count, reprocess_deadline
from scheduler.problem import LEAST_STAND_MINUTES, REPROCESS_WITHIN_MINUTES
from tests.factories.canner_runs import BEANS_OUT, Run, make_bean_run, make_beans_out
from tests.factories.sites import declare, make_site

pytestmark = pytest.mark.django_db

DAY_OF_MINUTES = 24 * 60
HEAT_OFF = 57


@pytest.fixture
def run() -> Run:
    return make_beans_out(make_site())


def count(
    run: Run,
    sealed: int = 7,
    unsealed: int = 0,
    broken: int = 0,
    *,
    hours: float = 12,
    by: User | None = None,
    correct: bool = False,
    portion: LoadPortion | None = None,
) -> Counted:
    """The member counts so many hours after jars out."""
    at = run.at(BEANS_OUT) + timedelta(hours=hours)
    return record_seal_check(
        portion=portion or run.portion,
        sealed=sealed,
        unsealed=unsealed,
        broken=broken,
        by=by or run.site.member,
        at=at,
        correct=correct,
        now=at,
    )


def test_the_hours_are_the_planner_s() -> None:
    assert timedelta(minutes=LEAST_STAND_MINUTES) == COUNT_AFTER
    assert timedelta(minutes=REPROCESS_WITHIN_MINUTES) == timedelta(hours=24)


def test_counting_closes_the_load_and_ends_its_reminders(run: Run) -> None:
    assert (
        list(to_count(run.site.kitchen))
        == list(to_count_by(run.site.member, run.site.kitchen))
        == [run.portion]
    )
    counted = count(run, 6, 0, 1)
    assert (counted.offer, counted.advice) == (None, "")
    assert standing_check(run.portion) == counted.check
    assert run.fresh().state == LoadState.CLOSED
    run.portion.batch.refresh_from_db()
    assert run.portion.batch.state == BatchState.DONE
    assert {reminder.state for reminder in Reminder.objects.all()} == {State.CANCELLED}
    assert not to_count(run.site.kitchen).exists()


def test_no_count_before_twelve_hours_of_elapsed_time(run: Run) -> None:
    with pytest.raises(TooEarly, match="12 hours") as refusal:
        count(run, hours=12 - 1 / 3600)
    assert refusal.value.earliest == run.at(BEANS_OUT) + timedelta(hours=12)
    assert not SealCheck.objects.exists()
    count(run)


def test_across_the_change_to_winter_time_twelve_hours_are_twelve(run: Run) -> None:
    """Out at 20:00 on 31 October in Denver: 07:00 by the clock on the wall, for 01:00 comes twice."""
    load = run.fresh()
    load.jars_out_at = datetime(2026, 11, 1, 2, tzinfo=UTC)
    load.save()
    at = datetime(2026, 11, 1, 14, tzinfo=UTC)
    with pytest.raises(TooEarly):
        record_seal_check(
            portion=run.portion,
            sealed=7,
            unsealed=0,
            broken=0,
            by=run.site.member,
            at=at - timedelta(minutes=1),
            now=at,
        )
    record_seal_check(portion=run.portion, sealed=7, unsealed=0, broken=0, by=run.site.member, at=at, now=at)


def test_a_count_dated_ahead_of_the_clock_is_no_way_round_the_twelve_hours(run: Run) -> None:
    at = run.at(BEANS_OUT) + timedelta(hours=12)
    with pytest.raises(BadTime, match="still to come"):
        record_seal_check(
            portion=run.portion,
            sealed=7,
            unsealed=0,
            broken=0,
            by=run.site.member,
            at=at,
            now=at - timedelta(minutes=1),
        )


def test_jars_still_in_the_canner_are_not_counted() -> None:
    run = make_bean_run(make_site())
    with pytest.raises(BadTime, match="not recorded as out"):
        count(run)


def test_a_count_to_come_is_refused(run: Run) -> None:
    with pytest.raises(BadTime, match="still to come"):
        record_seal_check(
            portion=run.portion,
            sealed=7,
            unsealed=0,
            broken=0,
            by=run.site.member,
            at=run.at(DAY_OF_MINUTES),
            now=run.at(13 * 60),
        )


@pytest.mark.parametrize("counts", [(6, 0, 0), (7, 1, 0), (8, -1, 0), (0, 0, 0)])
def test_counts_must_be_the_jars_that_went_in(run: Run, counts: tuple[int, int, int]) -> None:
    with pytest.raises(WrongCount):
        count(run, *counts)
    assert run.fresh().state == LoadState.OUT


def test_the_database_refuses_a_count_below_nothing_or_twice(run: Run) -> None:
    given = {"portion": run.portion, "checked_by": run.site.member, "checked_at": run.at(0)}
    with pytest.raises(IntegrityError), transaction.atomic():
        SealCheck.objects.create(sealed=-1, unsealed=8, broken=0, **given)
    SealCheck.objects.create(sealed=7, unsealed=0, broken=0, **given)
    with pytest.raises(IntegrityError), transaction.atomic():
        SealCheck.objects.create(sealed=7, unsealed=0, broken=0, **given)


def test_another_member_counts_nothing_but_an_operator_may(run: Run) -> None:
    assert not can_count(run.site.other, run.portion)
    with pytest.raises(NotAllowed):
        count(run, by=run.site.other)
    assert can_count(run.site.operator, run.portion)
    count(run, by=run.site.operator)


def test_a_second_count_is_refused_and_a_correction_names_the_first(run: Run) -> None:
    first = count(run, 7).check
    with pytest.raises(AlreadyDecided, match="7 sealed, 0 unsealed, 0 broken"):
        count(run, 6, 1)
    second = count(run, 6, 1, correct=True)
    assert second.check.corrects == first
    assert standing_check(run.portion) == second.check
    assert second.offer is not None
    with pytest.raises(AlreadyDecided):
        count(make_beans_out(make_site()), correct=True)


def test_a_load_is_closed_when_every_portion_is_counted(run: Run) -> None:
    batch = declare(run.site, run.day, food="carrots", pack="raw", member=run.site.other)
    other = LoadPortion.objects.create(load=run.load, batch=batch, jars=3, process_key="row", headspace_in=1)
    count(run)
    assert run.fresh().state == LoadState.OUT
    count(run, 3, portion=other, by=run.site.other)
    assert run.fresh().state == LoadState.CLOSED


def test_an_unsealed_jar_has_24_hours_from_the_end_of_the_process(run: Run) -> None:
    counted = count(run, 6, 1)
    assert counted.offer is not None
    assert (counted.offer.jars, counted.offer.deadline) == (1, run.at(HEAT_OFF + DAY_OF_MINUTES))
    assert "before Sun 13 Sep 09:57" in counted.advice
    assert list(open_offers(run.site.kitchen)) == [counted.offer]


def test_at_the_deadline_it_is_the_refrigerator(run: Run) -> None:
    """Jars came out an hour after the process ended, so 23 hours later the time is up."""
    counted = count(run, 6, 1, hours=23)
    assert (counted.offer, counted.advice) == (None, REFRIGERATE)


def test_the_last_minute_before_the_deadline_is_in_time(run: Run) -> None:
    assert count(run, 6, 1, hours=23 - 1 / 60).offer is not None


def test_without_heat_off_the_earliest_possible_end_counts(run: Run) -> None:
    load = run.fresh()
    load.process_ended_at = None
    assert reprocess_deadline(load) == run.at(HEAT_OFF + DAY_OF_MINUTES)
    load.jars_out_at = run.at(BEANS_OUT - 30)
    assert reprocess_deadline(load) == run.at(HEAT_OFF - 30 + DAY_OF_MINUTES)
    load.jars_out_at = run.at(BEANS_OUT + 300)
    assert reprocess_deadline(load) == run.at(HEAT_OFF + DAY_OF_MINUTES)
    assert LoadPhase.objects.get(load=load, kind="process").ends_at == run.at(HEAT_OFF)


def test_an_offer_is_taken_up_in_time_or_not_at_all(run: Run) -> None:
    offer = count(run, 6, 1).offer
    assert offer is not None
    with pytest.raises(BadTime, match="passed"):
        decide_offer(offer=offer, accept=True, actor=run.site.member, now=offer.deadline)
    booked = decide_offer(
        offer=offer, accept=True, actor=run.site.member, now=offer.deadline - timedelta(minutes=1)
    )
    assert booked.state == OfferState.BOOKED
    with pytest.raises(AlreadyDecided):
        decide_offer(offer=offer, accept=False, actor=run.site.member, now=offer.deadline)


def test_an_offer_follows_a_heat_off_corrected_to_earlier(run: Run) -> None:
    """A second portion keeps the record open; the deadline counts from the corrected end (rule S11)."""
    LoadPortion.objects.create(
        load=run.load, batch=declare(run.site, run.day), jars=2, process_key="row", headspace_in=1
    )
    offer = count(run, 6, 1).offer
    assert offer is not None
    run.load.refresh_from_db()
    load = run.load
    load.process_ended_at = run.at(HEAT_OFF - 10)
    load.save()
    now = run.at(HEAT_OFF - 10 + DAY_OF_MINUTES)
    assert now < offer.deadline
    with pytest.raises(BadTime, match="passed"):
        decide_offer(offer=offer, accept=True, actor=run.site.member, now=now)


def test_an_offer_is_decided_by_its_member_or_an_operator(run: Run) -> None:
    offer = count(run, 6, 1).offer
    assert offer is not None
    with pytest.raises(NotAllowed):
        decide_offer(offer=offer, accept=False, actor=run.site.other, now=run.at(0))
    assert decide_offer(offer=offer, accept=False, actor=run.site.operator).state == OfferState.DECLINED


def test_open_offers_expire_at_their_deadline(run: Run) -> None:
    offer = count(run, 6, 1).offer
    assert offer is not None
    assert expire_offers(now=offer.deadline - timedelta(seconds=1)) == 0
    assert expire_offers(now=offer.deadline) == 1
    assert expire_offers(now=offer.deadline) == 0
    offer.refresh_from_db()
    assert (offer.state, offer.decided_at) == (OfferState.EXPIRED, offer.deadline)


def test_a_correction_changes_or_ends_an_open_offer(run: Run) -> None:
    count(run, 6, 1)
    changed = count(run, 5, 2, correct=True).offer
    assert changed is not None
    assert (changed.jars, changed.state) == (2, OfferState.OPEN)
    ended = count(run, 7, correct=True)
    assert ended.offer is not None
    assert (ended.offer.state, ended.advice) == (OfferState.DECLINED, "")
    assert ReprocessOffer.objects.count() == 1


def test_no_state_of_an_offer_was_forgotten() -> None:
    assert set(VALID_OFFER_NEXT) == set(OfferState)
