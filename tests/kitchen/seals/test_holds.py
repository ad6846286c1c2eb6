"""Jars on hold: a lead decides, with a reason, once (rule S16)."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from kitchen.audit.models import AuditEvent
from kitchen.errors import AlreadyDecided, BadSetting, JarsOnHold, NotAllowed
from kitchen.planning.models import Load
from kitchen.reminders.models import Reminder, State
from kitchen.seals.actions import decide_hold, decide_offer, record_seal_check
from kitchen.seals.models import HoldDecision, HoldOutcome, OfferState, ReprocessOffer
from kitchen.seals.queries import on_hold, on_shelf
from tests.factories.canner_runs import BEANS_OUT, Run, make_bean_run
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    """Seven quarts whose record is missing."""
    run = make_bean_run(make_site())
    run.take_out(BEANS_OUT, "The tablet was flat")
    return run


def count(run: Run) -> None:
    at = run.at(BEANS_OUT) + timedelta(hours=13)
    record_seal_check(portion=run.portion, sealed=6, unsealed=1, broken=0, by=run.site.member, at=at, now=at)


def test_a_lead_releases_with_a_reason(run: Run) -> None:
    assert list(on_hold(run.site.kitchen)) == [run.load]
    decision = decide_hold(
        load=run.load, outcome=HoldOutcome.RELEASED, by=run.site.lead, reason=" Paper record is whole "
    )
    load = run.fresh()
    assert (load.on_hold, load.discarded, load.deviation != "") == (False, False, True)
    assert (decision.reason, decision.decided_by) == ("Paper record is whole", run.site.lead)
    actions = AuditEvent.objects.filter(actor=run.site.lead).values_list("action", flat=True)
    assert set(actions) == {"decide_hold", "end_hold"}
    assert not on_hold(run.site.kitchen).exists()


def test_jars_thrown_out_get_no_reminder_and_no_reprocess(run: Run) -> None:
    count(run)
    decide_hold(load=run.load, outcome=HoldOutcome.DISCARDED, by=run.site.lead, reason="In doubt")
    assert run.fresh().discarded
    assert ReprocessOffer.objects.get().state == OfferState.DECLINED
    assert {reminder.state for reminder in Reminder.objects.all()} == {State.CANCELLED}
    assert not on_shelf(run.site.kitchen).exists()


def test_jars_on_hold_are_processed_again_only_by_a_lead(run: Run) -> None:
    """Else a second process would give them a lot that is on no hold (rule S16)."""
    at = run.at(BEANS_OUT) + timedelta(hours=12)
    counted = record_seal_check(
        portion=run.portion, sealed=5, unsealed=2, broken=0, by=run.site.member, at=at, now=at
    )
    assert counted.offer is not None
    for actor in (run.site.member, run.site.operator):
        with pytest.raises(JarsOnHold, match="rule S16"):
            decide_offer(offer=counted.offer, accept=True, actor=actor, now=at)
    booked = decide_offer(offer=counted.offer, accept=True, actor=run.site.lead, now=at)
    assert booked.state == OfferState.BOOKED


def test_the_shelf_holds_closed_loads_that_are_free(run: Run) -> None:
    count(run)
    assert not on_shelf(run.site.kitchen).exists()
    decide_hold(load=run.load, outcome=HoldOutcome.RELEASED, by=run.site.lead, reason="Read again")
    assert list(on_shelf(run.site.kitchen)) == [run.load]


def test_nobody_but_a_lead_decides(run: Run) -> None:
    for user in (run.site.operator, run.site.member, make_site().lead):
        with pytest.raises(NotAllowed):
            decide_hold(load=run.load, outcome=HoldOutcome.RELEASED, by=user, reason="Fine")
    assert run.fresh().on_hold


def test_a_decision_needs_a_reason(run: Run) -> None:
    with pytest.raises(BadSetting):
        decide_hold(load=run.load, outcome=HoldOutcome.RELEASED, by=run.site.lead, reason=" ")
    with pytest.raises(IntegrityError), transaction.atomic():
        HoldDecision.objects.create(
            load=run.load, outcome=HoldOutcome.RELEASED, reason="", decided_by=run.site.lead
        )


def test_what_is_not_on_hold_is_not_decided(run: Run) -> None:
    decide_hold(load=run.load, outcome=HoldOutcome.RELEASED, by=run.site.lead, reason="Read again")
    with pytest.raises(AlreadyDecided):
        decide_hold(load=run.load, outcome=HoldOutcome.DISCARDED, by=run.site.lead, reason="After all")


def test_the_database_refuses_a_hold_without_a_deviation(run: Run) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Load.objects.filter(pk=run.load.pk).update(deviation="")
