"""Signing a process record, and reviewing it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record as write_audit
from kitchen.audit.actions import snapshot
from kitchen.members.models import User
from kitchen.planning.loads import locked_load, note_reviewed
from kitchen.planning.models import Load
from kitchen.records.content import Record, record_of
from kitchen.records.models import RecordSignature, SignatureKind
from kitchen.records.rules import check_may_review, check_may_sign, check_told, took_part


@transaction.atomic
def sign_record(
    *, load: Load, by: User, digest: str, note: str = "", now: datetime | None = None
) -> RecordSignature:
    """An operator signs what they wrote. ``digest`` is that of the record they looked at.

    Refused: whoever wrote nothing in it, a record that is not finished, one that changed since it was looked at.
    """
    found = _locked(load)
    check_may_sign(by, found)
    found.check_same(digest)
    return _put(found, SignatureKind.SIGNED, by, note, now)


@transaction.atomic
def review_record(
    *, load: Load, by: User, digest: str, note: str = "", now: datetime | None = None
) -> RecordSignature:
    """A lead has looked at the whole record, and nothing is missing.

    Refused: a record that is not signed, that the lead took part in while another lead did not, or that changed.
    """
    found = _locked(load)
    check_may_review(by, found)
    found.check_same(digest)
    return _put(found, SignatureKind.REVIEWED, by, note, now, alone=took_part(by, found))


@transaction.atomic
def send_back_record(
    *, load: Load, by: User, digest: str, note: str, now: datetime | None = None
) -> RecordSignature:
    """A lead has found something missing, and says what. The record is then to be signed again."""
    found = _locked(load)
    check_may_review(by, found)
    found.check_same(digest)
    check_told(note.strip())
    return _put(found, SignatureKind.SENT_BACK, by, note, now)


def _locked(load: Load) -> Record:
    """The record once nobody else can write in it or sign it."""
    locked_load(load.pk)
    return record_of(load)


def _put(
    found: Record, kind: SignatureKind, by: User, note: str, now: datetime | None, *, alone: bool = False
) -> RecordSignature:
    signature = RecordSignature.objects.create(
        load=found.load,
        kind=kind,
        by=by,
        at=now or timezone.now(),
        digest=found.digest,
        last_line=found.newest_line,
        deviation=found.load.deviation,
        alone=alone,
        note=note.strip(),
    )
    if kind != SignatureKind.SIGNED:
        note_reviewed(found.load, reviewed=kind == SignatureKind.REVIEWED)
    write_audit(
        actor=by,
        kitchen=found.kitchen,
        action=f"record_{kind.value}",
        subject=signature,
        after=snapshot(signature, "load", "kind", "digest", "last_line", "note"),
    )
    return signature
