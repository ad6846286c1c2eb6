"""Changing one's password, and setting another when it is forgotten."""

from __future__ import annotations

from typing import Any  # Django builds the message's context.

from django.conf import settings
from django.contrib.auth.forms import PasswordChangeForm, PasswordResetForm
from django.urls import reverse

from kitchen.members.forms import NewPasswordForm
from kitchen.members.models import User


class ChangePasswordForm(PasswordChangeForm, NewPasswordForm):
    """The old password and a new one, set by the action that records it."""

    def save(self, commit: bool = True) -> User:
        """Set the password."""
        return NewPasswordForm.save(self, commit)


class ForgottenForm(PasswordResetForm):
    """The address of somebody who forgot their password. What is answered does not tell whether it is known."""

    def send_mail(
        self,
        subject_template_name: str,
        email_template_name: str,
        context: dict[str, Any],
        from_email: str | None,
        to_email: str,
        html_email_template_name: str | None = None,
    ) -> None:
        """Send the message, with the kitchen's own address in it and never the one that the request names."""
        path = reverse("members:new-password", args=[context["uid"], context["token"]])
        context["address"] = f"{settings.KITCHEN_URL}{path}"
        super().send_mail(
            subject_template_name,
            email_template_name,
            context,
            from_email,
            to_email,
            html_email_template_name,
        )
