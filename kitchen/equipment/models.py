"""What the kitchen cans with, and when each canner is taken."""

from __future__ import annotations

from uuid import uuid4

from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from kitchen.members.models import Kitchen


class Burner(models.Model):
    """A cooking place. ``efficiency`` is the share of its power that reaches the water."""

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="burners")
    name = models.CharField(max_length=40)
    power_w = models.PositiveIntegerField()
    efficiency = models.FloatField()

    class Meta:
        ordering = ("kitchen_id", "name")
        constraints = (
            models.UniqueConstraint(fields=("kitchen", "name"), name="burner_name_once"),
            models.CheckConstraint(condition=Q(power_w__gt=0), name="burner_power"),
            models.CheckConstraint(
                condition=Q(efficiency__gt=0) & Q(efficiency__lte=1), name="burner_efficiency"
            ),
        )

    def __str__(self) -> str:
        return self.name


class CannerKind(models.TextChoices):
    """The kinds of canner, in the planner's spelling. A pressure canner is told by its gauge."""

    DIAL = "dial", "Pressure, dial gauge"
    WEIGHTED = "weighted", "Pressure, weighted gauge"
    BOILING_WATER = "boiling-water", "Boiling-water"
    STEAM = "steam", "Atmospheric steam"


class Canner(models.Model):
    """A vessel. ``code`` is its part of the lot code.

    ``own_counts`` maps a jar size to the number the kitchen found to fit in a full canner, for instance
    ``{"pint": 9}``; ``own_cool_down_minutes`` maps a jar size to minutes likewise. What is ``own_`` was
    measured here and overrides an estimate; rule S5 still limits the cool-down.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="canners")
    code = models.CharField(
        max_length=4, validators=[RegexValidator(r"^[A-Z0-9]{1,4}$", "One to four capitals or digits.")]
    )
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=20, choices=CannerKind)
    burner = models.ForeignKey(Burner, on_delete=models.PROTECT, related_name="canners")
    inside_diameter_in = models.FloatField()
    inside_depth_in = models.FloatField()
    layers = models.PositiveSmallIntegerField(default=1)
    own_counts = models.JSONField(default=dict, blank=True)
    heavy_walled = models.BooleanField(default=False)
    water_l = models.FloatField(null=True, blank=True)
    empty_mass_kg = models.FloatField(null=True, blank=True)
    own_heat_up_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    own_pressure_up_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    own_cool_down_minutes = models.JSONField(default=dict, blank=True)
    out_of_service_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("kitchen_id", "code")
        constraints = (
            models.UniqueConstraint(fields=("kitchen", "name"), name="canner_name_once"),
            models.UniqueConstraint(fields=("kitchen", "code"), name="canner_code_once"),
            models.CheckConstraint(condition=Q(kind__in=CannerKind.values), name="canner_kind"),
            models.CheckConstraint(
                condition=Q(inside_diameter_in__gt=0, inside_depth_in__gt=0), name="canner_inside"
            ),
            models.CheckConstraint(condition=Q(layers__range=(1, 2)), name="canner_layers"),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def is_pressure(self) -> bool:
        """True for a canner that holds steam under pressure, whatever its gauge."""
        return self.kind in (CannerKind.DIAL, CannerKind.WEIGHTED)


class GaugeCheck(models.Model):
    """A dial gauge compared with a master gauge (rule S8). ``error_psi`` is what the dial shows above the
    true pressure.

    Rows are only ever added; a wrong one is followed by a right one.
    """

    canner = models.ForeignKey(Canner, on_delete=models.PROTECT, related_name="gauge_checks")
    checked_on = models.DateField()
    error_psi = models.DecimalField(max_digits=4, decimal_places=2)
    checked_by = models.CharField(max_length=80)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("canner_id", "-checked_on", "-id")

    def __str__(self) -> str:
        return f"{self.canner}, {self.checked_on}: {self.error_psi:+} psi"


class Kettle(models.Model):
    """A pot for hot pack food. ``volume_qt`` is what it may hold while cooking."""

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="kettles")
    name = models.CharField(max_length=40)
    volume_qt = models.FloatField()
    burner = models.ForeignKey(
        Burner, null=True, blank=True, on_delete=models.PROTECT, related_name="kettles"
    )

    class Meta:
        ordering = ("kitchen_id", "name")
        constraints = (
            models.UniqueConstraint(fields=("kitchen", "name"), name="kettle_name_once"),
            models.CheckConstraint(condition=Q(volume_qt__gt=0), name="kettle_volume"),
        )

    def __str__(self) -> str:
        return self.name


class CoolingTable(models.Model):
    """Where jars stand after unloading (rule S12)."""

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="cooling_tables")
    name = models.CharField(max_length=40)
    area_sq_in = models.FloatField()

    class Meta:
        ordering = ("kitchen_id", "name")
        constraints = (
            models.UniqueConstraint(fields=("kitchen", "name"), name="cooling_table_name_once"),
            models.CheckConstraint(condition=Q(area_sq_in__gt=0), name="cooling_table_area"),
        )

    def __str__(self) -> str:
        return self.name


class Purpose(models.TextChoices):
    """What canner time is for."""

    SLOT = "slot", "A member's slot"
    LOAD = "load", "A load of a harvest day"


class CannerTime(models.Model):
    """A canner taken from ``starts_at`` up to, not including, ``ends_at``.

    This is the one table on which a double booking is refused, by the database itself: no two rows of one
    canner that ``occupies`` may share an instant. Cool-down, rest and cleaning belong inside the span. A row
    given up keeps its span with ``occupies`` off. One that is only held lapses at ``held_until``; whoever wants the
    canner then frees it.
    """

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="+")
    canner = models.ForeignKey(Canner, on_delete=models.PROTECT, related_name="times")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    purpose = models.CharField(max_length=10, choices=Purpose)
    occupies = models.BooleanField(default=True)
    held_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("starts_at", "canner__code", "canner_id")
        constraints = (
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="canner_time_ends_after_start"
            ),
            models.CheckConstraint(condition=Q(purpose__in=Purpose.values), name="canner_time_purpose"),
        )
        indexes = (models.Index(fields=("kitchen", "starts_at"), name="canner_time_kitchen_start"),)

    def __str__(self) -> str:
        return f"{self.canner} from {self.starts_at:%Y-%m-%d %H:%M} to {self.ends_at:%H:%M}"
