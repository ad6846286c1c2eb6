"""Having a program told, and ending it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record
from kitchen.errors import AlreadyDecided, BadSetting
from kitchen.hints import send_hint
from kitchen.hooks.bridge import secret_of
from kitchen.hooks.models import Hook, Telling
from kitchen.hooks.queries import hooks_of
from kitchen.hooks.rules import MOST_HOOKS
from kitchen.http.outward import checked_address, host_of
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may
from kitchen.reminders.models import State

SWEEP_TASK = "kitchen.hooks.tasks.tell_programs"


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeHook:
    """An address and its secret, which can be shown now and never again."""

    hook: Hook
    secret: str


@transaction.atomic
def add_hook(*, kitchen: Kitchen, address: str, actor: User) -> MadeHook:
    """Have a program at this address told. ``BadAddress``, or ``BadSetting`` for one too many or one that stands."""
    check_may(actor, kitchen, Deed.CHANGE_POLICY)
    asked = checked_address(address)
    # The kitchen's row is locked, so that two at once do not make one too many.
    Kitchen.objects.select_for_update(no_key=True).get(pk=kitchen.pk)
    standing = hooks_of(kitchen)
    if standing.filter(address=asked).exists():
        raise BadSetting("This address is told already.", remedy="Look at the list.")
    if standing.count() >= MOST_HOOKS:
        raise BadSetting("No more addresses can be told.", remedy="End one that is not needed any more.")
    hook = Hook.objects.create(kitchen=kitchen, address=asked, made_by=actor)
    # The rest of an address may be a secret of its own.
    record(actor=actor, kitchen=kitchen, action="add_hook", subject=hook, after={"host": host_of(asked)})
    return MadeHook(hook=hook, secret=secret_of(hook))


@transaction.atomic
def renew_secret(*, hook: Hook, actor: User) -> MadeHook:
    """Sign with another secret from now on, because the one before was lost or seen by others."""
    check_may(actor, hook.kitchen, Deed.CHANGE_POLICY)
    standing = Hook.objects.select_for_update(no_key=True, of=("self",)).select_related("kitchen")
    kept = standing.get(pk=hook.pk)
    _check_stands(kept)
    kept.secrets_made += 1
    kept.save(update_fields=["secrets_made"])
    record(
        actor=actor,
        kitchen=kept.kitchen,
        action="renew_hook_secret",
        subject=kept,
        after={"secrets_made": kept.secrets_made},
    )
    return MadeHook(hook=kept, secret=secret_of(kept))


@transaction.atomic
def end_hook(*, hook: Hook, actor: User | None, now: datetime | None = None) -> None:
    """Tell this address nothing more. Without an ``actor`` the other program asked for it."""
    if actor is not None:
        check_may(actor, hook.kitchen, Deed.CHANGE_POLICY)
    at = now or timezone.now()
    if not Hook.objects.filter(pk=hook.pk, ended_at__isnull=True).update(ended_at=at):
        raise _ended()
    waiting = Telling.objects.filter(hook=hook, state__in=(State.DUE, State.FAILED))
    waiting.update(state=State.CANCELLED)
    record(actor=actor, kitchen=hook.kitchen, action="end_hook", subject=hook, after={"ended_at": at})


@transaction.atomic
def try_hook(*, hook: Hook, actor: User, now: datetime | None = None) -> Telling:
    """Send a message that says nothing, to see whether it arrives and is understood."""
    check_may(actor, hook.kitchen, Deed.CHANGE_POLICY)
    _check_stands(Hook.objects.get(pk=hook.pk))
    if Telling.objects.filter(hook=hook, reminder=None, state=State.DUE).exists():
        raise AlreadyDecided("A trial is on its way.", remedy="Look again in a minute.")
    at = now or timezone.now()
    trial = Telling.objects.create(hook=hook, created_at=at, next_attempt_at=at)
    record(actor=actor, kitchen=hook.kitchen, action="try_hook", subject=hook, after={"trial": str(trial.pk)})
    _hint()
    return trial


@transaction.atomic
def tell_again(*, telling: Telling, actor: User, now: datetime | None = None) -> None:
    """Send what was given up once more, when the other program works again."""
    check_may(actor, telling.hook.kitchen, Deed.CHANGE_POLICY)
    at = now or timezone.now()
    failed = Telling.objects.filter(pk=telling.pk, state=State.FAILED, hook__ended_at__isnull=True)
    if not failed.update(state=State.DUE, attempts=0, next_attempt_at=at):
        raise AlreadyDecided("This message is not one that was given up.", remedy="Look at the list again.")
    record(
        actor=actor,
        kitchen=telling.hook.kitchen,
        action="tell_hook_again",
        subject=telling,
        before={"state": State.FAILED},
        after={"state": State.DUE},
    )
    _hint()


def _check_stands(hook: Hook) -> None:
    if hook.ended_at is not None:
        raise _ended()


def _ended() -> AlreadyDecided:
    return AlreadyDecided("This address is told nothing any more.", remedy="Give it again.")


def _hint() -> None:
    transaction.on_commit(partial(send_hint, SWEEP_TASK), robust=True)
