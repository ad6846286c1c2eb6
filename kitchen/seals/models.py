"""The seal check, and what becomes of a jar that did not seal."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from kitchen.planning.models import Load, LoadPortion


class SealCheck(models.Model):
    """What was counted of one portion.

    Never changed: a miscount is followed by a further row that names it.
    """

    portion = models.ForeignKey(LoadPortion, on_delete=models.PROTECT, related_name="seal_checks")
    sealed = models.PositiveIntegerField()
    unsealed = models.PositiveIntegerField()
    broken = models.PositiveIntegerField()
    checked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    checked_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    class Meta:
        ordering = ("portion_id", "id")
        constraints = (
            models.CheckConstraint(
                condition=Q(sealed__gte=0) & Q(unsealed__gte=0) & Q(broken__gte=0), name="seal_check_counts"
            ),
            # One first count a portion; every further row corrects one before it.
            models.UniqueConstraint(
                fields=("portion",), condition=Q(corrects__isnull=True), name="seal_check_first_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.portion}: {self.sealed} sealed, {self.unsealed} unsealed, {self.broken} broken"


class OfferState(models.TextChoices):
    """What was decided about unsealed jars."""

    OPEN = "open", "Open"
    BOOKED = "booked", "Booked"
    DECLINED = "declined", "Declined: refrigerate and use"
    EXPIRED = "expired", "Expired: refrigerate and use"


class ReprocessOffer(models.Model):
    """The same full process again with a new lid, to be started before ``deadline`` (rule S11)."""

    portion = models.OneToOneField(LoadPortion, on_delete=models.PROTECT, related_name="reprocess_offer")
    jars = models.PositiveIntegerField()
    deadline = models.DateTimeField()
    state = models.CharField(max_length=10, choices=OfferState, default=OfferState.OPEN)
    offered_at = models.DateTimeField(default=timezone.now)
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("deadline", "id")
        constraints = (
            models.CheckConstraint(condition=Q(jars__gt=0), name="reprocess_offer_jars"),
            models.CheckConstraint(condition=Q(state__in=OfferState.values), name="reprocess_offer_state"),
        )

    def __str__(self) -> str:
        return f"{self.jars} jars of {self.portion} until {self.deadline:%Y-%m-%d %H:%M}"


class HoldOutcome(models.TextChoices):
    """What a lead decided about jars on hold."""

    RELEASED = "released", "Released"
    DISCARDED = "discarded", "Thrown out"


class HoldDecision(models.Model):
    """Rule S16: a lead's decision about a load on hold, with the reason.

    Never changed; a later one may follow.
    """

    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="hold_decisions")
    outcome = models.CharField(max_length=10, choices=HoldOutcome)
    reason = models.TextField()
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("load_id", "id")
        constraints = (
            models.CheckConstraint(condition=Q(outcome__in=HoldOutcome.values), name="hold_decision_outcome"),
            models.CheckConstraint(condition=~Q(reason=""), name="hold_decision_reason"),
        )

    def __str__(self) -> str:
        return f"{self.load}: {self.get_outcome_display()}"
