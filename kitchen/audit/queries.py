"""Reading the audit record."""

from __future__ import annotations

from django.db import models
from django.db.models import QuerySet

from kitchen.audit.models import AuditEvent


def about(subject: models.Model) -> QuerySet[AuditEvent]:
    """What was done to this row, newest first."""
    return AuditEvent.objects.filter(
        object_type=subject._meta.label_lower, object_id=str(subject.pk)
    ).select_related("actor")


def of_kitchen(kitchen: models.Model) -> QuerySet[AuditEvent]:
    """What was done in this kitchen, newest first."""
    return AuditEvent.objects.filter(kitchen_id=kitchen.pk).select_related("actor")
