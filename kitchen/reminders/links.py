"""Signed links that lead from a message straight to one form: the seal check of one portion, for one person.

Whoever holds the link may count those jars in that person's name, and nothing else. Opening it changes
nothing, so a mail scanner that follows links does no harm.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from django.conf import settings
from django.core import signing

from kitchen.errors import BadLink
from kitchen.members.models import User
from kitchen.members.rules import Deed, can
from kitchen.planning.models import LoadPortion
from kitchen.reminders.models import Kind

LINK_LIFE = timedelta(days=7)
"""Long enough for a reminder that went out late, short enough for a mailbox read by others."""
PATH: Final = "/s/"
CHOICES_PATH: Final = "/about-me/mail/"
UNSUBSCRIBE_PATH: Final = "/u/"

_ASK = "Sign in and choose the load, or ask the kitchen's lead."
# The salt ties a signature to this one use: no other signed value of the program can be passed off as a link.
_SALT = "kitchen.reminders.links.seal-check"
_UNSUBSCRIBE_SALT = "kitchen.reminders.links.unsubscribe"


@dataclass(frozen=True, slots=True, kw_only=True)
class SealCheckLink:
    """Where a link leads, and in whose name."""

    portion: LoadPortion
    user: User


def make_link(portion: LoadPortion, user: User) -> str:
    """The whole address, with the kitchen's own scheme and host."""
    return f"{settings.KITCHEN_URL}{PATH}{make_token(portion, user)}"


def make_token(portion: LoadPortion, user: User) -> str:
    """The signed part of the address."""
    return signing.dumps({"portion": str(portion.uuid), "user": str(user.uuid)}, salt=_SALT)


def read_link(token: str, *, life: timedelta = LINK_LIFE) -> SealCheckLink:
    """What a token was made for. ``BadLink``: not whole, too old, or its person has left the kitchen."""
    try:
        named = signing.loads(token, salt=_SALT, max_age=life)
    except signing.SignatureExpired as error:
        raise BadLink("This link has run out.", remedy=_ASK) from error
    except signing.BadSignature as error:
        raise BadLink("This link is not whole.", remedy=f"Open it from the message again. {_ASK}") from error
    portions = LoadPortion.objects.select_related("batch", "load__harvest_day__kitchen", "load__canner")
    portion = portions.filter(uuid=named["portion"]).first()
    user = User.objects.filter(uuid=named["user"]).first()
    if (
        portion is None
        or user is None
        or not can(user, portion.load.harvest_day.kitchen, Deed.COUNT_OWN_JARS)
    ):
        raise BadLink("This link leads to jars that are not this person's any more.", remedy=_ASK)
    return SealCheckLink(portion=portion, user=user)


def make_unsubscribe_link(user: User, kind: str) -> str:
    """The whole address at which this person ends messages of this kind without signing in."""
    return f"{settings.KITCHEN_URL}{UNSUBSCRIBE_PATH}{make_unsubscribe_token(user, kind)}"


def make_unsubscribe_token(user: User, kind: str) -> str:
    """The signed part of that address."""
    return signing.dumps({"user": str(user.uuid), "kind": kind}, salt=_UNSUBSCRIBE_SALT)


def read_unsubscribe_link(token: str) -> tuple[User, Kind]:
    """Whose messages of which kind. It never runs out: an old message can be ended like a new one. ``BadLink``: not
    whole.
    """
    try:
        named = signing.loads(token, salt=_UNSUBSCRIBE_SALT)
    except signing.BadSignature as error:
        remedy = "Open it from the message again, or sign in and choose what you are written to about."
        raise BadLink("This link is not whole.", remedy=remedy) from error
    user = User.objects.filter(uuid=named["user"]).first()
    if user is None:
        raise BadLink("This link leads to nobody any more.", remedy="Nothing is sent to you.")
    return user, Kind(named["kind"])
