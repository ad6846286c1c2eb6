"""The one way to write the audit record."""

from __future__ import annotations

from collections.abc import Mapping

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import models, transaction

from kitchen.audit.models import AuditEvent


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
    """Append one row about ``subject``, inside the caller's transaction.

    ``before`` and ``after`` may hold whole snapshots: fields that did not change are left away.
    """
    if not transaction.get_connection().in_atomic_block:
        raise transaction.TransactionManagementError(
            "An audit row belongs into the transaction of the change it records."
        )
    old, new = dict(before or {}), dict(after or {})
    same = {name for name in old.keys() & new.keys() if old[name] == new[name]}
    return AuditEvent.objects.create(
        actor_id=actor.pk if actor else None,
        kitchen_id=kitchen.pk if kitchen else None,
        action=action,
        object_type=subject._meta.label_lower,
        object_id=str(subject.pk),
        before={name: value for name, value in old.items() if name not in same},
        after={name: value for name, value in new.items() if name not in same},
        request_id=request_id,
    )


def snapshot(subject: models.Model, *fields: str) -> dict[str, object]:
    """The named fields of a row as they are now, for ``before`` and ``after``; relations by their primary
    key.
    """
    return {name: subject.serializable_value(name) for name in fields}
