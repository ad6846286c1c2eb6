"""The address with which an invited person sets their first password. It holds once, for a few days."""

from __future__ import annotations

from django.conf import settings
from django.core.mail import EmailMessage
from django.urls import reverse
from django.utils.translation import gettext

from kitchen.members.models import Kitchen, User


def sends_mail() -> bool:
    """False while messages only go into a folder, because no mail server is named."""
    return "filebased" not in settings.EMAIL_BACKEND


def kitchens_address() -> str:
    """Scheme and host under which the kitchen is reached, and the only ones for which its passkeys hold."""
    return settings.KITCHEN_URL


def invitation_address(user: User, token: str) -> str:
    """The whole address of the page on which ``accept_invitation`` is pressed."""
    return f"{settings.KITCHEN_URL}{reverse('members:join', args=[user.uuid, token])}"


def invitation_mail(kitchen: Kitchen, user: User, token: str) -> EmailMessage:
    """The invitation as a plain message, in the language in use."""
    text = gettext(
        "Hello %(person)s,\n\n"
        "%(kitchen)s has written you down as one of its people. Set your password here, once, within three days:\n\n"
        "%(address)s\n\n"
        "If you know nothing of this, do nothing."
    )
    subject = gettext("Your place at %(kitchen)s")
    values = {"person": user, "kitchen": kitchen, "address": invitation_address(user, token)}
    return EmailMessage(subject % values, text % values, to=[user.email])
