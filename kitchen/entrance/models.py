"""What is kept of codes that were asked for, of passkeys, and of what people are still to be written about both."""

from __future__ import annotations

from uuid import uuid4

from django.db import models
from django.db.models import Q

from kitchen.members.models import Language, User

MOST_TRIES = 5
"""For one code: common practice, no source."""
LONGEST_ID = 1364
"""Letters of base64url for 1,023 bytes, the longest that WebAuthn lets the name of a passkey be."""


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


class Passkey(models.Model):
    """A passkey that a person keeps in a device or a password manager, and the public half of it.

    ``credential_id`` and ``public_key`` are unpadded base64url, as the browser sends them; the key is in COSE form.
    ``sign_count`` is the highest count that it ever sent; many passkeys never count and stay at 0.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="passkeys")
    name = models.CharField(max_length=60)
    credential_id = models.CharField(max_length=LONGEST_ID, unique=True)
    public_key = models.TextField()
    sign_count = models.PositiveBigIntegerField(default=0)
    added_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("user_id", "added_at")
        constraints = (models.UniqueConstraint(fields=("user", "name"), name="passkey_name_once"),)

    def __str__(self) -> str:
        return self.name


class Change(models.TextChoices):
    """What was changed of the ways into an account."""

    PASSKEY_ADDED = "passkey_added", "Passkey added"
    PASSKEY_REMOVED = "passkey_removed", "Passkey removed"
    PASSWORD = "password", "Password changed"  # A word, none that opens anything.


class AccountNews(models.Model):
    """A change of the ways into an account of which its person is still to be written to; gone once they were.

    ``passkey`` is the name of the one that came or went. ``next_attempt_at`` is when a worker may try, or try again.
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    change = models.CharField(max_length=20, choices=Change)
    passkey = models.CharField(max_length=60, blank=True)
    happened_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    next_attempt_at = models.DateTimeField(db_index=True)

    class Meta:
        constraints = (
            models.CheckConstraint(condition=Q(change__in=Change.values), name="account_news_change"),
            models.CheckConstraint(
                condition=Q(change=Change.PASSWORD, passkey="") | ~Q(change=Change.PASSWORD) & ~Q(passkey=""),
                name="account_news_names_a_passkey",
            ),
        )

    def __str__(self) -> str:
        return f"{self.user}, {self.get_change_display()}"
