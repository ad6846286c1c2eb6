"""Jars that did not seal: their member is told before the deadline of a second process (rule S11)."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.mail import EmailMultiAlternatives

from kitchen.planning.loads import hold_load
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.reminders.rules import DEADLINE_NEARS
from kitchen.reminders.sweeping import sweep_due
from kitchen.reminders.timing import OPTIONAL
from kitchen.reminders.words import REFRIGERATE
from kitchen.seals.actions import decide_hold, decide_offer, expire_offers, record_seal_check
from kitchen.seals.models import HoldOutcome, OfferState, ReprocessOffer
from tests.factories.canner_runs import BEANS_OUT, Run, make_beans_out
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_beans_out(make_site())


def count(run: Run, unsealed: int, *, hours: float = 12, correct: bool = False) -> ReprocessOffer | None:
    at = run.at(BEANS_OUT) + timedelta(hours=hours)
    counted = record_seal_check(
        portion=run.portion,
        sealed=7 - unsealed,
        unsealed=unsealed,
        broken=0,
        by=run.site.member,
        at=at,
        correct=correct,
        now=at,
    )
    return counted.offer


def offered(run: Run, unsealed: int = 2, *, hours: float = 12) -> ReprocessOffer:
    offer = count(run, unsealed, hours=hours)
    assert offer is not None
    return offer


def reminder() -> Reminder:
    return Reminder.objects.get(kind=Kind.REPROCESS)


def test_the_member_is_told_three_hours_before_and_once(
    run: Run, mailoutbox: list[EmailMultiAlternatives]
) -> None:
    offer = offered(run)
    due = offer.deadline - DEADLINE_NEARS
    assert (reminder().due_at, reminder().recipient) == (due, run.site.member)
    sweep_due(now=due - timedelta(seconds=1))
    assert not mailoutbox
    assert sweep_due(now=due + timedelta(seconds=1)).sent == 1
    sweep_due(now=due + timedelta(hours=1))
    (mail,) = mailoutbox
    assert (
        mail.subject
        == f"Process again soon: 2 quart jars of {run.portion.batch.food_name}, lot {run.load.lot_code}"
    )
    body = str(mail.body)
    assert "When this was written 2 h 59 min were left." in body, "rounded down"
    assert REFRIGERATE in body
    assert "/again" in body
    assert "/u/" not in body, "it cannot be switched off"
    assert Kind.REPROCESS not in OPTIONAL


def test_where_less_time_is_left_it_is_told_at_once(run: Run) -> None:
    offer = offered(run, hours=21.5)
    assert reminder().due_at == run.at(BEANS_OUT) + timedelta(hours=21.5)
    assert reminder().due_at > offer.deadline - DEADLINE_NEARS


def test_one_that_comes_too_late_says_so(run: Run, mailoutbox: list[EmailMultiAlternatives]) -> None:
    offer = offered(run)
    sweep_due(now=offer.deadline)
    (mail,) = mailoutbox
    assert mail.subject.startswith("Too late to process again: 2 quart jars")
    assert "do not reprocess" in str(mail.body)


def test_a_corrected_count_changes_or_ends_it(run: Run) -> None:
    offered(run)
    count(run, 3, hours=13, correct=True)
    assert (reminder().state, reminder().news) == (State.DUE, {"jars": 3})
    count(run, 0, hours=14, correct=True)
    assert reminder().state == State.CANCELLED


def test_it_ends_with_the_offer_unless_that_was_taken_up(run: Run) -> None:
    offer = offered(run)
    decide_offer(offer=offer, accept=True, actor=run.site.member, now=run.at(BEANS_OUT) + timedelta(hours=13))
    assert reminder().state == State.DUE, "booked is not processed"
    ReprocessOffer.objects.update(state=OfferState.OPEN)
    decide_offer(
        offer=offer, accept=False, actor=run.site.member, now=run.at(BEANS_OUT) + timedelta(hours=13)
    )
    assert reminder().state == State.CANCELLED


def test_it_ends_with_the_deadline_and_with_the_jars(run: Run) -> None:
    offer = offered(run)
    expire_offers(now=offer.deadline)
    assert reminder().state == State.CANCELLED
    Reminder.objects.filter(kind=Kind.REPROCESS).update(state=State.DUE)
    hold_load(load=run.fresh(), deviations=["The gauge reads high."], actor=run.site.lead)
    decide_hold(load=run.load, outcome=HoldOutcome.DISCARDED, by=run.site.lead, reason="Too low")
    assert reminder().state == State.CANCELLED


def test_jars_that_all_sealed_have_no_deadline(run: Run) -> None:
    count(run, 0)
    assert not Reminder.objects.filter(kind=Kind.REPROCESS).exists()
