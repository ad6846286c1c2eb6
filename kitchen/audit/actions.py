"""The one way to write the audit record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import models, transaction

from kitchen.audit.models import AuditEvent


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A row of the record: who did what to which row, and what it was before and after.

    ``before`` and ``after`` may hold whole snapshots: fields that did not change are left away.
    """

    actor: AbstractBaseUser | None
    kitchen: models.Model | None
    action: str
    subject: models.Model
    before: Mapping[str, object] | None = None
    after: Mapping[str, object] | None = None
    request_id: str = ""


def record(
    *,
    actor: AbstractBaseUser | None,
    kitchen: models.Model | None,
    action: str,
    subject: models.Model,
    before: Mapping[str, object] | None = None,
    after: Mapping[str, object] | None = None,
    request_id: str = "",
) -> AuditEvent:
    """Append one row about ``subject``, inside the caller's transaction; see ``Line``."""
    line = Line(
        actor=actor,
        kitchen=kitchen,
        action=action,
        subject=subject,
        before=before,
        after=after,
        request_id=request_id,
    )
    _check_within_transaction()
    event = _event(line)
    event.save(force_insert=True)
    return event


def record_all(lines: Iterable[Line]) -> None:
    """Append many rows at once, inside the caller's transaction."""
    _check_within_transaction()
    AuditEvent.objects.bulk_create([_event(line) for line in lines])


def _check_within_transaction() -> None:
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError(
            "An audit row belongs into the transaction of the change it records."
        )


def _event(line: Line) -> AuditEvent:
    old, new = dict(line.before or {}), dict(line.after or {})
    same = {name for name in old.keys() & new.keys() if old[name] == new[name]}
    return AuditEvent(
        actor_id=line.actor.pk if line.actor else None,
        kitchen_id=line.kitchen.pk if line.kitchen else None,
        action=line.action,
        object_type=line.subject._meta.label_lower,
        object_id=str(line.subject.pk),
        before={name: value for name, value in old.items() if name not in same},
        after={name: value for name, value in new.items() if name not in same},
        request_id=line.request_id,
    )


def snapshot(subject: models.Model, *fields: str) -> dict[str, object]:
    """The named fields of a row as they are now, for ``before`` and ``after``; relations by their primary
    key.
    """
    return {name: subject.serializable_value(name) for name in fields}
