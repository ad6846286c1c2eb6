"""Which batch the jars of an offer are, until their second process says in which lot they ended."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone

from kitchen.batches.models import Batch
from kitchen.seals.models import ReprocessOffer


class ReprocessBooking(models.Model):
    """The jars of an offer were put down for another process, as this batch. Never changed."""

    offer = models.OneToOneField(ReprocessOffer, on_delete=models.PROTECT, related_name="booking")
    batch = models.OneToOneField(Batch, on_delete=models.PROTECT, related_name="reprocess_booking")
    booked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    booked_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.offer} as {self.batch}"
