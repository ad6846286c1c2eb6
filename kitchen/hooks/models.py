"""Programs that a kitchen has told of its reminders, and what each of them was told."""

from __future__ import annotations

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from kitchen.http.outward import LONGEST_ADDRESS
from kitchen.members.models import Kitchen
from kitchen.reminders.models import Reminder, State, sending


class Hook(models.Model):
    """An address that a lead has told of the kitchen's reminders.

    The secret that its messages are signed with is kept nowhere: it follows from the program's own key, the ``uuid``
    and how many were made, ``secrets_made``.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="hooks")
    address = models.CharField(max_length=LONGEST_ADDRESS)
    secrets_made = models.PositiveSmallIntegerField(default=1)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("kitchen_id", "created_at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("kitchen", "address"), condition=Q(ended_at__isnull=True), name="hook_stands_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.address} for {self.kitchen}"


class Telling(models.Model):
    """One message to one address: of a reminder, or, without one, of nothing but that it is a trial.

    The ``id`` goes along with every attempt, so that a message that came twice is known to be one. It waits, is sent
    and is given up like a reminder; see ``kitchen.reminders.rules``.
    """

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    hook = models.ForeignKey(Hook, on_delete=models.PROTECT, related_name="tellings")
    reminder = models.ForeignKey(
        Reminder, null=True, blank=True, on_delete=models.PROTECT, related_name="tellings"
    )
    created_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.DUE)
    next_attempt_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    claim_token = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    last_failure = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("-created_at", "id")
        constraints = (
            models.UniqueConstraint(fields=("hook", "reminder"), name="telling_once"),
            *sending("telling"),
        )
        indexes = (
            models.Index(fields=("state", "next_attempt_at"), name="telling_due"),
            models.Index(fields=("state", "lease_until"), name="telling_lease"),
        )

    def __str__(self) -> str:
        return f"{self.reminder or 'A trial'} to {self.hook}"
