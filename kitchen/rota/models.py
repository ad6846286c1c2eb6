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
        ordering = ("harvest_day_id", "user__display_name", "user_id", "starts_at")
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
    """A person at a station for a time. ``task`` names the work within the station, for instance cleaning.

    Without a ``user`` it is open: somebody is wanted. ``asked_for`` is a shift that a lead asked for by hand, apart
    from any plan; a new plan leaves it alone. ``sequence`` rises with every change that a calendar shows.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    harvest_day = models.ForeignKey(HarvestDay, on_delete=models.PROTECT, related_name="shifts")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="shifts"
    )
    asked_for = models.BooleanField(default=False)
    station = models.CharField(max_length=10, choices=Station)
    task = models.CharField(max_length=20, blank=True)
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="shifts")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField(default=timezone.now)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("starts_at", "user__display_name", "user_id", "id")
        constraints = (
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="shift_ends_after_start"),
            models.CheckConstraint(condition=Q(station__in=Station.values), name="shift_station"),
        )
        indexes = (models.Index(fields=("user", "starts_at"), name="shift_user_start"),)

    def __str__(self) -> str:
        who = self.user or "Somebody wanted"
        station = self.get_station_display().lower()
        return f"{who} at {station}, {self.starts_at:%H:%M} to {self.ends_at:%H:%M}"

    @property
    def is_watch(self) -> bool:
        """True for standing at a canner, which rule S9 gives to trained people only."""
        return self.station == Station.CANNER


class FormerHolder(models.Model):
    """Somebody who had a shift and has it no more, so that their calendar can strike it out."""

    shift = models.ForeignKey(Shift, on_delete=models.PROTECT, related_name="former_holders")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    lost_at = models.DateTimeField()

    class Meta:
        ordering = ("shift_id", "user_id")
        constraints = (models.UniqueConstraint(fields=("shift", "user"), name="former_holder_once"),)

    def __str__(self) -> str:
        return f"{self.user} no longer has: {self.shift}"


class OfferState(models.TextChoices):
    """What became of an offer to change shifts."""

    OPEN = "open", "Open"
    ACCEPTED = "accepted", "Accepted"
    WITHDRAWN = "withdrawn", "Withdrawn"
    LAPSED = "lapsed", "Lapsed"


class SwapOffer(models.Model):
    """A shift that its holder would give to another: to anybody, or to one person; for nothing, or for one of theirs.

    The sequences are those of the two shifts when it was made: once either shift has changed, the offer no longer
    stands, whatever its ``state`` says. See ``queries.standing_offers``.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    shift = models.ForeignKey(Shift, on_delete=models.PROTECT, related_name="offers")
    shift_sequence = models.PositiveIntegerField()
    offered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    to = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    wants = models.ForeignKey(Shift, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    wants_sequence = models.PositiveIntegerField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=OfferState, default=OfferState.OPEN)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    created_at = models.DateTimeField(default=timezone.now)
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("created_at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("shift",), condition=Q(state=OfferState.OPEN), name="swap_offer_one_open_a_shift"
            ),
            models.CheckConstraint(condition=Q(state__in=OfferState.values), name="swap_offer_state"),
            models.CheckConstraint(
                condition=Q(to__isnull=True) | ~Q(to=F("offered_by")), name="swap_offer_to_another"
            ),
            models.CheckConstraint(
                condition=Q(wants__isnull=True, wants_sequence__isnull=True)
                | Q(wants__isnull=False, wants_sequence__isnull=False, to__isnull=False),
                name="swap_offer_wants_of_one_person",
            ),
            models.CheckConstraint(
                condition=Q(state=OfferState.ACCEPTED, accepted_by__isnull=False)
                | ~Q(state=OfferState.ACCEPTED) & Q(accepted_by__isnull=True),
                name="swap_offer_accepted_by",
            ),
        )

    def __str__(self) -> str:
        return f"{self.offered_by} offers: {self.shift}"
