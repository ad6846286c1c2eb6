"""Where jars went from the shelf, and which jars were processed again."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from kitchen.planning.models import LoadPortion
from kitchen.seals.models import ReprocessOffer


class MoveKind(models.TextChoices):
    """What became of jars. A wrong line is made good by putting jars back."""

    TAKEN_HOME = "taken_home", "Taken home by the member"
    GIVEN = "given", "Given to somebody else"
    USED = "used", "Used in the kitchen"
    THROWN_OUT = "thrown_out", "Thrown out"
    PUT_BACK = "put_back", "Put back, or written by mistake"


class ShelfMove(models.Model):
    """Sealed jars of a portion that left the shelf, or came back to it. Never changed.

    ``note`` says to whom or why. ``at`` is when it happened, ``recorded_at`` when it was written down.
    """

    portion = models.ForeignKey(LoadPortion, on_delete=models.PROTECT, related_name="shelf_moves")
    kind = models.CharField(max_length=12, choices=MoveKind)
    jars = models.PositiveIntegerField()
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("portion_id", "id")
        constraints = (
            models.CheckConstraint(condition=Q(jars__gt=0), name="shelf_move_jars"),
            models.CheckConstraint(condition=Q(kind__in=MoveKind.values), name="shelf_move_kind"),
            models.CheckConstraint(
                condition=~Q(kind=MoveKind.GIVEN) | ~Q(note=""), name="shelf_move_given_to_whom"
            ),
        )

    def __str__(self) -> str:
        return f"{self.jars} of {self.portion}: {self.get_kind_display()}"


class Reprocess(models.Model):
    """The jars of an offer were processed again as this portion, whose lot is theirs from then on. Never changed."""

    offer = models.OneToOneField(ReprocessOffer, on_delete=models.PROTECT, related_name="reprocess")
    portion = models.OneToOneField(LoadPortion, on_delete=models.PROTECT, related_name="reprocess_of")
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.offer} again as {self.portion}"
