"""What an audit row says."""

from __future__ import annotations

import pytest
from django.db import transaction
from django.db.transaction import TransactionManagementError

from kitchen.audit.actions import record, snapshot
from kitchen.audit.models import AuditEvent
from kitchen.audit.queries import about, of_kitchen
from tests.factories.sites import make_site


@pytest.mark.django_db
def test_only_changed_fields_are_kept() -> None:
    site = make_site()
    before = {"cool_down_minutes": 40, "prep_hands": 2}
    event = record(
        actor=site.lead,
        kitchen=site.kitchen,
        action="change_policy",
        subject=site.kitchen,
        before=before,
        after={"cool_down_minutes": 45, "prep_hands": 2},
    )
    assert (event.before, event.after) == ({"cool_down_minutes": 40}, {"cool_down_minutes": 45})


@pytest.mark.django_db
def test_a_row_is_found_by_what_it_is_about() -> None:
    site, elsewhere = make_site(), make_site()
    event = record(actor=site.lead, kitchen=site.kitchen, action="look", subject=site.weighted)
    assert list(about(site.weighted)) == [event]
    assert list(of_kitchen(site.kitchen)) == [event]
    assert list(of_kitchen(elsewhere.kitchen)) == []


@pytest.mark.django_db
def test_a_snapshot_holds_relations_by_their_key() -> None:
    site = make_site()
    assert snapshot(site.weighted, "code", "burner") == {"code": "W1", "burner": site.weighted.burner_id}


@pytest.mark.django_db(transaction=True)
def test_a_row_outside_a_transaction_is_refused() -> None:
    site = make_site()
    with pytest.raises(TransactionManagementError):
        record(actor=site.lead, kitchen=site.kitchen, action="look", subject=site.kitchen)


@pytest.mark.django_db(transaction=True)
def test_a_row_falls_with_its_change() -> None:
    site = make_site()
    with transaction.atomic():
        record(actor=site.lead, kitchen=site.kitchen, action="look", subject=site.kitchen)
        transaction.set_rollback(True)
    assert not AuditEvent.objects.exists()
