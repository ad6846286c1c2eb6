"""Writing down when and about what a person wants e-mail."""

from __future__ import annotations

from collections.abc import Collection
from datetime import time

from django.db import transaction

from kitchen.audit.actions import record, snapshot
from kitchen.errors import BadSetting
from kitchen.members.models import User
from kitchen.reminders.models import Kind, MailChoices
from kitchen.reminders.timing import OPTIONAL

_FIELDS = ("quiet_from", "quiet_until", "once_a_day", "off")


@transaction.atomic
def choose_mail(
    *, user: User, quiet_from: time | None, quiet_until: time | None, once_a_day: bool, off: Collection[str]
) -> MailChoices:
    """Choose one's quiet hours, a digest, and the kinds that one wants no e-mail about.

    Refused: quiet hours that only begin or only end, or last the whole day; doing without a kind that is about safety.
    """
    if (quiet_from is None) != (quiet_until is None):
        raise BadSetting("Quiet hours have a beginning and an end.", remedy="Give both times, or neither.")
    if quiet_from is not None and quiet_from == quiet_until:
        raise BadSetting("Quiet hours cannot last the whole day.", remedy="Choose another end.")
    _check_optional(off)
    choices, before = _choices(user)
    choices.quiet_from, choices.quiet_until = quiet_from, quiet_until
    choices.once_a_day, choices.off = once_a_day, sorted(set(off))
    return _written(choices, before, action="choose_mail")


@transaction.atomic
def end_mail(*, user: User, kind: Kind) -> MailChoices:
    """End messages of this kind, as a person may from the message itself. All that a digest holds ends with it."""
    ended = set(OPTIONAL) if kind is Kind.DIGEST else {kind}
    _check_optional(ended)
    choices, before = _choices(user)
    choices.off = sorted({*choices.off, *ended})
    return _written(choices, before, action="end_mail")


def _check_optional(kinds: Collection[str]) -> None:
    if not set(kinds) <= set(OPTIONAL):
        raise BadSetting("Messages about safety cannot be switched off.", remedy="Choose among the others.")


def _choices(user: User) -> tuple[MailChoices, dict[str, object]]:
    MailChoices.objects.get_or_create(user=user)
    choices = MailChoices.objects.select_for_update().get(user=user)
    return choices, snapshot(choices, *_FIELDS)


def _written(choices: MailChoices, before: dict[str, object], *, action: str) -> MailChoices:
    choices.save(update_fields=_FIELDS)
    record(
        actor=choices.user,
        kitchen=None,
        action=action,
        subject=choices,
        before=before,
        after=snapshot(choices, *_FIELDS),
    )
    return choices
