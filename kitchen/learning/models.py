"""Measured times beside what was usual: what the kitchen learns from."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from kitchen.batches.models import Batch
from kitchen.equipment.models import Canner
from kitchen.members.models import Kitchen


class TimedKind(models.TextChoices):
    """What is timed, in the planner's spelling. The first four come from the process record."""

    HEAT_UP = "heat_up", "Heat-up"
    PRESSURE_UP = "pressure_up", "Coming to pressure"
    COOL_DOWN = "cool_down", "Cool-down"
    UNLOADING = "unloading", "Unloading"
    PREP = "prep", "Prep"
    KETTLE = "kettle", "Kettle"
    FILL = "fill", "Filling"


WORK_KINDS = (TimedKind.PREP, TimedKind.KETTLE, TimedKind.FILL)
"""What somebody times by hand, because no record is kept of it otherwise."""


class MeasuredTime(models.Model):
    """How long something took, and how long it usually takes: the planner's minutes before anything is learned.

    A canner's time belongs to a load and is read off its process record, anew whenever that is corrected. A
    station's time belongs to a batch and was timed by a person, who may withdraw it. ``least_minutes`` is the
    least cool-down of rule S5 for the load, 0 where there is none. ``family`` is the guide of the food.
    """

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="measured_times")
    kind = models.CharField(max_length=20, choices=TimedKind)
    canner = models.ForeignKey(
        Canner, null=True, blank=True, on_delete=models.PROTECT, related_name="measured_times"
    )
    load = models.ForeignKey(
        "planning.Load", null=True, blank=True, on_delete=models.PROTECT, related_name="measured_times"
    )
    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="measured_times"
    )
    family = models.PositiveSmallIntegerField(null=True, blank=True)
    jars = models.PositiveSmallIntegerField(null=True, blank=True)
    hands = models.PositiveSmallIntegerField(null=True, blank=True)
    on = models.DateField()
    usual_minutes = models.FloatField()
    recorded_minutes = models.FloatField()
    least_minutes = models.PositiveSmallIntegerField(default=0)
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-on", "-id")
        constraints = (
            models.UniqueConstraint(fields=("load", "kind"), name="measured_time_once_a_load"),
            models.CheckConstraint(condition=Q(kind__in=TimedKind.values), name="measured_time_kind"),
            models.CheckConstraint(
                condition=Q(usual_minutes__gt=0, recorded_minutes__gt=0), name="measured_time_minutes"
            ),
            models.CheckConstraint(
                condition=Q(load__isnull=False, canner__isnull=False, batch__isnull=True)
                | Q(load__isnull=True, canner__isnull=True, batch__isnull=False),
                name="measured_time_of_a_load_or_a_batch",
            ),
        )
        indexes = (models.Index(fields=("kitchen", "on"), name="measured_time_kitchen_on"),)

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.on}: {self.recorded_minutes:g} min"
