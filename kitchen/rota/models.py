"""Who is there on a harvest day, and who does what."""

from __future__ import annotations

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from kitchen.planning.models import HarvestDay, Load


class Attendance(models.Model):
    """A person's own hours on a harvest day. Several rows mean a break between."""

    harvest_day = models.ForeignKey(HarvestDay, on_delete=models.PROTECT, related_name="attendances")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="attendances")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ("harvest_day", "user", "starts_at")
        constraints = (
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="attendance_ends_after_start"
            ),
            models.UniqueConstraint(fields=("harvest_day", "user", "starts_at"), name="attendance_once"),
        )

    def __str__(self) -> str:
        return f"{self.user} on {self.harvest_day}"


class Station(models.TextChoices):
    """Where hands are needed."""

    PREP = "prep", "Prep"
    KETTLE = "kettle", "Kettle"
    FILL = "fill", "Fill"
    CANNER = "canner", "Canner"
    COOLING = "cooling", "Cooling and labels"


class Shift(models.Model):
    """A person at a station for a time. ``task`` names the work within the station, for instance cleaning."""

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    harvest_day = models.ForeignKey(HarvestDay, on_delete=models.PROTECT, related_name="shifts")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="shifts")
    station = models.CharField(max_length=10, choices=Station)
    task = models.CharField(max_length=20, blank=True)
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="shifts")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField(default=timezone.now)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("starts_at", "user", "id")
        constraints = (
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="shift_ends_after_start"),
            models.CheckConstraint(condition=Q(station__in=Station.values), name="shift_station"),
        )
        indexes = (models.Index(fields=("user", "starts_at"), name="shift_user_start"),)

    def __str__(self) -> str:
        station = self.get_station_display().lower()
        return f"{self.user} at {station}, {self.starts_at:%H:%M} to {self.ends_at:%H:%M}"
