"""The secret addresses of calendar feeds; only what is needed to know one again is kept."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from kitchen.equipment.models import Canner
from kitchen.members.models import Kitchen


class FeedKind(models.TextChoices):
    """What a feed shows."""

    MEMBER = "member", "My slots, loads and shifts"
    DAYS = "days", "Every load of the kitchen's harvest days"
    CANNER = "canner", "One canner: its loads, and when it is taken"
    ROTA = "rota", "The rota: everybody's shifts"


class Feed(models.Model):
    """One person's address of one calendar. ``digest`` is the SHA-256 of its secret part, which is not kept.

    A person has at most one standing address for each calendar; giving it to somebody else means making a new
    one. Only that of a canner names one, and it is of the same kitchen.
    """

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="feeds")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="feeds")
    kind = models.CharField(max_length=10, choices=FeedKind)
    canner = models.ForeignKey(Canner, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField(default=timezone.now)
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_fetched_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("kitchen_id", "user_id", "kind", "-created_at")
        constraints = (
            models.UniqueConstraint(
                fields=("kitchen", "user", "kind"),
                condition=Q(revoked_at__isnull=True, canner__isnull=True),
                name="feed_stands_once",
            ),
            models.UniqueConstraint(
                fields=("user", "canner"),
                condition=Q(revoked_at__isnull=True, canner__isnull=False),
                name="feed_of_canner_stands_once",
            ),
            models.CheckConstraint(
                condition=Q(kind=FeedKind.CANNER, canner__isnull=False)
                | (~Q(kind=FeedKind.CANNER) & Q(canner__isnull=True)),
                name="feed_names_its_canner",
            ),
            models.CheckConstraint(condition=Q(kind__in=FeedKind.values), name="feed_kind"),
        )

    def __str__(self) -> str:
        return f"{self.what}, {self.user} in {self.kitchen}"

    @property
    def what(self) -> str:
        """Which calendar, in words."""
        return str(self.canner) if self.canner else self.get_kind_display()
