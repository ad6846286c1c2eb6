"""The record of who changed what. Rows are only ever added (rule S16); the database refuses the rest."""

from __future__ import annotations

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils import timezone


class AuditEvent(models.Model):
    """One change made by one action, in the same transaction as the change.

    ``before`` and ``after`` hold the changed fields only. ``object_id`` is the primary key as text. ``actor``
    is None for what the program did by itself, for instance a finished planning job. UPDATE and DELETE are
    refused by triggers.
    """

    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    kitchen = models.ForeignKey(
        "members.Kitchen", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    action = models.CharField(max_length=60)
    object_type = models.CharField(max_length=60)
    object_id = models.CharField(max_length=40)
    before = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)
    after = models.JSONField(default=dict, blank=True, encoder=DjangoJSONEncoder)
    request_id = models.CharField(max_length=64, blank=True)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("-at", "-id")
        indexes = (
            models.Index(fields=("kitchen", "-at"), name="audit_kitchen_at"),
            models.Index(fields=("object_type", "object_id"), name="audit_object"),
        )

    def __str__(self) -> str:
        return f"{self.action} {self.object_type} {self.object_id}"
