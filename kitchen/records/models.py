"""Who signed a process record, and who reviewed it. Rows are only ever added; the database refuses the rest."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from kitchen.floor.models import RunEvent
from kitchen.planning.models import Load


class SignatureKind(models.TextChoices):
    """What was said with a signature."""

    SIGNED = "signed", _("Signed by the operator")
    REVIEWED = "reviewed", _("Reviewed")
    SENT_BACK = "sent_back", _("Sent back to the operator")


class RecordSignature(models.Model):
    """A press under a load's record: an operator's for what they wrote, or a lead's who looked at all of it.

    ``digest`` is that of the record as it stood, ``last_line`` its newest line then, and ``deviation`` what was known
    to be wrong with the load: a record that has changed since asks for new signatures. ``alone`` marks a review by
    somebody who took part in the run, because no other lead could do it. ``note`` says what an operator wants to add,
    or what a lead found missing.
    """

    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="record_signatures")
    kind = models.CharField(max_length=10, choices=SignatureKind)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    digest = models.CharField(max_length=64)
    last_line = models.ForeignKey(RunEvent, on_delete=models.PROTECT, related_name="+")
    deviation = models.TextField(blank=True)
    alone = models.BooleanField(default=False)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("load_id", "id")
        constraints = (
            models.CheckConstraint(condition=Q(kind__in=SignatureKind.values), name="record_signature_kind"),
            models.CheckConstraint(
                condition=~Q(kind=SignatureKind.SENT_BACK) | ~Q(note=""), name="record_signature_back_why"
            ),
            models.CheckConstraint(
                condition=Q(alone=False) | Q(kind=SignatureKind.REVIEWED), name="record_signature_alone"
            ),
        )

    def __str__(self) -> str:
        return f"{self.load}: {self.get_kind_display()}, {self.by}"
