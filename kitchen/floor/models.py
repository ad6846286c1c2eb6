"""The process record: what happened at each canner, as the operator tapped it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from kitchen.planning.models import Load


class EventKind(models.TextChoices):
    """What an operator records.

    Steam and pressure lines belong to pressure canners, boil lines to the others. A hand-over is no step of the
    cycle: it stands between them, and says who attends the canner from then on.
    """

    LOADED = "loaded", "Loaded, heat on"
    STEADY_STEAM = "steady_steam", "Steady steam"
    WEIGHT_ON = "weight_on", "Weight on, vent closed"
    AT_PRESSURE = "at_pressure", "At pressure"
    PRESSURE_LOST = "pressure_lost", "Pressure lost"
    FULL_BOIL = "full_boil", "Full boil"
    BOIL_LOST = "boil_lost", "Boil lost"
    HEAT_OFF = "heat_off", "Heat off"
    ZERO_PRESSURE = "zero_pressure", "Zero pressure"
    LID_OFF = "lid_off", "Lid off"
    JARS_OUT = "jars_out", "Jars out"
    HAND_OVER = "hand_over", "Watch handed over"


class RunEvent(models.Model):
    """One line of the process record. Never changed: a wrong line is corrected by a further one that names
    it.

    ``at`` is when it happened, ``recorded_at`` when it was written down. A line that ``withdraws`` the one it
    corrects says that it did not happen at all. ``taken_by`` took over the watch. ``initial_temp_f`` is that of the
    food in the coldest jar as the heat goes on.
    """

    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="run_events")
    kind = models.CharField(max_length=20, choices=EventKind)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    withdraws = models.BooleanField(default=False)
    reading_psi = models.FloatField(null=True, blank=True)
    initial_temp_f = models.FloatField(null=True, blank=True)
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("load_id", "at", "id")
        # The newest line of each record is asked for.
        indexes = (models.Index(fields=("load", "id"), name="run_event_load_id"),)
        constraints = (
            models.CheckConstraint(condition=Q(kind__in=EventKind.values), name="run_event_kind"),
            models.CheckConstraint(
                condition=Q(withdraws=False) | Q(corrects__isnull=False), name="run_event_withdraws_another"
            ),
            models.CheckConstraint(
                condition=Q(kind=EventKind.HAND_OVER, taken_by__isnull=False)
                | ~Q(kind=EventKind.HAND_OVER) & Q(taken_by__isnull=True),
                name="run_event_hand_over_to_somebody",
            ),
            models.CheckConstraint(
                condition=Q(initial_temp_f__isnull=True) | Q(kind=EventKind.LOADED),
                name="run_event_temperature_when_loaded",
            ),
        )

    def __str__(self) -> str:
        return f"{self.load} {self.get_kind_display()} at {self.at:%H:%M}"
