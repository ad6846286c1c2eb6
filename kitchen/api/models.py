"""The tokens with which programs sign in, and answers kept so that a repeated request changes nothing."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.utils import timezone

from kitchen.members.models import Kitchen

TOKEN_LIFE = timedelta(days=365)
"""So long a token lives at most: one season to the next. Common practice, no source."""


class Scope(models.TextChoices):
    """What a token opens, never more than its person's role."""

    BOARD = "board", "Read the board of a day: canners, loads, shifts"
    PRESS = "press", "Press steps of the run sheet"
    BOOK = "book", "Book canner time"
    EVERYTHING = "everything", "Everything that my role allows"


class Token(models.Model):
    """A key for one device or program of one person in one kitchen. Only its SHA-256 is kept, as ``digest``.

    It opens what its ``scopes`` say, as long as the person's role allows it and until it is revoked or ``ends_at``.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    scopes = models.JSONField()
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField(default=timezone.now)
    ends_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("kitchen_id", "user_id", "-created_at")

    def __str__(self) -> str:
        return f"{self.name}, {self.user} in {self.kitchen}"

    def opens(self, scope: Scope) -> bool:
        """True when the token may be used for this."""
        return scope in self.scopes or Scope.EVERYTHING in self.scopes


class KeptAnswer(models.Model):
    """What a request with an ``Idempotency-Key`` was answered, written in the transaction of what it did.

    ``fingerprint`` is the digest of method, address and payload: the same key for anything else is refused.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=200)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)
    body = models.TextField(blank=True)
    kept_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("user", "key"), name="kept_answer_once"),)

    def __str__(self) -> str:
        return f"{self.user}, {self.key}"
