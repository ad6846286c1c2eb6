"""What is kept of codes that were asked for."""

from __future__ import annotations

from uuid import uuid4

from django.db import models
from django.db.models import Q

from kitchen.members.models import Language, User

MOST_TRIES = 5
"""For one code: common practice, no source."""


class SignInCode(models.Model):
    """A code that somebody asked for. Only the browser that holds ``uuid`` in its session may use it.

    ``user`` is empty where nobody may sign in with the address that was typed: such a row is asked for and tried like
    any other, so that nothing tells the two apart. ``digest`` is empty until a worker has made the code, which stands
    nowhere but in the message. ``language`` is the one of the page that it was asked on. ``ended_at`` is when it was
    used, or a newer one asked for.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    user = models.ForeignKey(User, null=True, on_delete=models.CASCADE, related_name="+")
    language = models.CharField(max_length=5, choices=Language)
    digest = models.CharField(max_length=64, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    asked_at = models.DateTimeField(db_index=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(condition=Q(tries__lte=MOST_TRIES), name="sign_in_code_tries"),
            models.CheckConstraint(
                condition=Q(digest="") | Q(user__isnull=False), name="sign_in_code_for_somebody"
            ),
        )

    def __str__(self) -> str:
        return str(self.pk)
