"""The databases themselves refuse to change or remove a record (rule S16)."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import Model
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.equipment.models import GaugeCheck
from kitchen.floor.models import EventKind, RunEvent
from kitchen.labels.models import MoveKind, Reprocess, ShelfMove
from kitchen.records.models import RecordSignature, SignatureKind
from kitchen.reprocess.models import ReprocessBooking
from kitchen.seals.models import HoldDecision, HoldOutcome, ReprocessOffer, SealCheck
from tests.factories.loads import add_portion, make_batch, make_day, make_kitchen, make_load, make_member

pytestmark = pytest.mark.django_db

RECORDS = (
    AuditEvent,
    GaugeCheck,
    RunEvent,
    SealCheck,
    HoldDecision,
    ShelfMove,
    Reprocess,
    RecordSignature,
    ReprocessBooking,
)


@pytest.fixture
def rows() -> dict[type[Model], Model]:
    """One row of every table that is a record."""
    kitchen = make_kitchen()
    member = make_member(kitchen)
    day = make_day(kitchen)
    load = make_load(day)
    portion = add_portion(load, make_batch(day, member))
    offer = ReprocessOffer.objects.create(portion=portion, jars=1, deadline=timezone.now())
    line = RunEvent.objects.create(load=load, kind=EventKind.LOADED, at=timezone.now(), recorded_by=member)
    return {
        AuditEvent: AuditEvent.objects.create(action="look", object_type="batches.batch", object_id="1"),
        GaugeCheck: GaugeCheck.objects.create(
            canner=load.canner, checked_on=date(2026, 8, 1), error_psi=Decimal("0.5"), checked_by="Office"
        ),
        RunEvent: line,
        SealCheck: SealCheck.objects.create(
            portion=portion, sealed=7, unsealed=0, broken=0, checked_by=member, checked_at=timezone.now()
        ),
        HoldDecision: HoldDecision.objects.create(
            load=load, outcome=HoldOutcome.RELEASED, reason="Read again", decided_by=member
        ),
        ShelfMove: ShelfMove.objects.create(
            portion=portion, kind=MoveKind.TAKEN_HOME, jars=2, at=timezone.now(), recorded_by=member
        ),
        RecordSignature: RecordSignature.objects.create(
            load=load, kind=SignatureKind.SIGNED, by=member, digest="0" * 64, last_line=line
        ),
        ReprocessBooking: ReprocessBooking.objects.create(offer=offer, batch=portion.batch, booked_by=member),
        Reprocess: Reprocess.objects.create(
            offer=offer,
            portion=portion,
            recorded_by=member,
        ),
    }


@pytest.mark.parametrize("record", RECORDS)
def test_raw_update_is_refused(rows: dict[type[Model], Model], record: type[Model]) -> None:
    with pytest.raises(IntegrityError, match="only ever appended to"), transaction.atomic():
        execute("UPDATE {table} SET id = id WHERE id = %s", rows[record])


@pytest.mark.parametrize("record", RECORDS)
def test_raw_delete_is_refused(rows: dict[type[Model], Model], record: type[Model]) -> None:
    with pytest.raises(IntegrityError, match="only ever appended to"), transaction.atomic():
        execute("DELETE FROM {table} WHERE id = %s", rows[record])
    assert record._default_manager.filter(pk=rows[record].pk).exists()


@pytest.mark.sqlite
@pytest.mark.parametrize("record", RECORDS)
def test_replace_is_refused(rows: dict[type[Model], Model], record: type[Model]) -> None:
    """INSERT OR REPLACE removes the old row without firing its DELETE trigger."""
    with pytest.raises(IntegrityError, match="only ever appended to"), transaction.atomic():
        execute("INSERT OR REPLACE INTO {table} SELECT * FROM {table} WHERE id = %s", rows[record])


@pytest.mark.parametrize("record", RECORDS)
def test_update_of_a_queryset_is_refused(rows: dict[type[Model], Model], record: type[Model]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        record._default_manager.filter(pk=rows[record].pk).update(id=rows[record].pk)


def execute(statement: str, row: Model) -> None:
    """Run a statement about the row past every action and model."""
    with connection.cursor() as cursor:
        cursor.execute(statement.format(table=row._meta.db_table), [row.pk])
