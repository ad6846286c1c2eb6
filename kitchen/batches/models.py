"""What members bring, and the canner time they book outside harvest days."""

from __future__ import annotations

from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from kitchen.equipment.models import CannerTime, CoolingTable
from kitchen.members.models import Kitchen

# A guard against slips of typing, not a figure of the trade.
MOST_JARS_IN_BATCH = 2000


class Pack(models.TextChoices):
    """Hot pack (food cooked, then filled) or raw pack."""

    HOT = "hot", "Hot pack"
    RAW = "raw", "Raw pack"


class Jar(models.TextChoices):
    """Jar sizes by their trade names."""

    QUARTER_PINT = "quarter_pint", "Quarter-pint (4 oz)"
    HALF_PINT = "half_pint", "Half-pint"
    TWELVE_OUNCE = "twelve_ounce", "12 oz"
    PINT = "pint", "Pint"
    PINT_AND_HALF = "pint_and_half", "Pint-and-a-half (24 oz)"
    QUART = "quart", "Quart"
    HALF_GALLON = "half_gallon", "Half-gallon"


class Unit(models.TextChoices):
    """How much a member says they bring."""

    JARS = "jars", "jars"
    POUNDS = "pounds", "pounds"
    BUSHEL = "bushel", "bushels"
    LUG = "lug", "lugs"
    CRATE = "crate", "crates"
    SACK = "sack", "sacks"


class BatchState(models.TextChoices):
    """How far a batch has come."""

    DECLARED = "declared", "Declared"
    ARRIVED = "arrived", "Arrived"
    PLANNED = "planned", "Planned"
    DONE = "done", "Done"
    CANCELLED = "cancelled", "Cancelled"


class Batch(models.Model):
    """One member's lot of one food, one pack, one jar size.

    ``jars_low`` and ``jars_high`` are the published yield; ``jars`` is the number planned, the upper end
    until it is corrected. ``prep_person_minutes_per_jar`` and ``kettle_minutes`` are the kitchen's own
    figures; None takes the usual ones.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="batches")
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="batches")
    harvest_day = models.ForeignKey(
        "planning.HarvestDay", null=True, blank=True, on_delete=models.PROTECT, related_name="batches"
    )
    food_id = models.CharField(max_length=60)
    food_name = models.CharField(max_length=120)
    pack = models.CharField(max_length=10, choices=Pack)
    jar = models.CharField(max_length=20, choices=Jar)
    amount = models.DecimalField(max_digits=8, decimal_places=2)
    unit = models.CharField(max_length=10, choices=Unit)
    jars_low = models.PositiveIntegerField()
    jars_high = models.PositiveIntegerField()
    jars = models.PositiveIntegerField()
    arrives_at = models.DateTimeField()
    picks_up_at = models.DateTimeField()
    prep_person_minutes_per_jar = models.FloatField(null=True, blank=True)
    kettle_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=BatchState, default=BatchState.DECLARED)
    declared_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("arrives_at", "id")
        verbose_name_plural = "batches"
        constraints = (
            models.CheckConstraint(
                condition=Q(picks_up_at__gt=F("arrives_at")), name="batch_picked_up_after_arrival"
            ),
            models.CheckConstraint(condition=Q(jars__range=(1, MOST_JARS_IN_BATCH)), name="batch_jars"),
            models.CheckConstraint(condition=Q(jars_high__gte=F("jars_low")), name="batch_jars_range"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="batch_amount"),
            models.CheckConstraint(condition=Q(pack__in=Pack.values), name="batch_pack"),
            models.CheckConstraint(condition=Q(jar__in=Jar.values), name="batch_jar"),
            models.CheckConstraint(condition=Q(unit__in=Unit.values), name="batch_unit"),
            models.CheckConstraint(condition=Q(state__in=BatchState.values), name="batch_state"),
        )
        indexes = (models.Index(fields=("kitchen", "arrives_at"), name="batch_kitchen_arrival"),)

    def __str__(self) -> str:
        return f"{self.jars} {self.get_jar_display().lower()} jars of {self.food_name} for {self.member}"


class SlotState(models.TextChoices):
    """Whether a slot stands."""

    BOOKED = "booked", "Booked"
    CANCELLED = "cancelled", "Cancelled"


class Slot(models.Model):
    """Canner time booked by a member. ``sequence`` rises with every change, for calendars."""

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="slots")
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="slots")
    canner_time = models.OneToOneField(CannerTime, on_delete=models.PROTECT, related_name="slot")
    batch = models.ForeignKey(Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="slots")
    state = models.CharField(max_length=10, choices=SlotState, default=SlotState.BOOKED)
    sequence = models.PositiveIntegerField(default=0)
    booked_at = models.DateTimeField(default=timezone.now)
    changed_at = models.DateTimeField(default=timezone.now)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("canner_time__starts_at", "id")
        constraints = (
            models.CheckConstraint(condition=Q(state__in=SlotState.values), name="slot_state"),
            models.CheckConstraint(
                condition=Q(state=SlotState.CANCELLED, cancelled_at__isnull=False)
                | Q(state=SlotState.BOOKED, cancelled_at__isnull=True),
                name="slot_cancelled_when",
            ),
        )

    def __str__(self) -> str:
        return f"{self.canner_time} for {self.member}"


class SlotStand(models.Model):
    """Space on a cooling table that the jars of a slot take, load by load (rule S12).

    Of slots booked before their loads were written; since then the loads say it.
    """

    slot = models.ForeignKey(Slot, on_delete=models.PROTECT, related_name="stands")
    cooling_table = models.ForeignKey(CoolingTable, on_delete=models.PROTECT, related_name="+")
    area_sq_in = models.FloatField()
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ("starts_at", "id")
        constraints = (
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="slot_stand_ends_after_start"
            ),
            models.CheckConstraint(condition=Q(area_sq_in__gt=0), name="slot_stand_area"),
        )

    def __str__(self) -> str:
        return f"{self.slot} on {self.cooling_table}"
