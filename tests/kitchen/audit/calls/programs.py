"""Calls of what is done about programs that are told."""

from __future__ import annotations

from kitchen.hooks.actions import add_hook, end_hook, renew_secret, tell_again, try_hook
from kitchen.hooks.models import Hook, Telling
from kitchen.reminders.models import State
from tests.factories.sites import Site
from tests.kitchen.audit.calls.leaving import Deed, leaves


def _hook(site: Site) -> Hook:
    return add_hook(kitchen=site.kitchen, address="https://wall.example/jars", actor=site.lead).hook


@leaves("hooks.actions.add_hook", "add_hook")
def _(site: Site) -> Deed:
    return lambda: _hook(site)


@leaves("hooks.actions.renew_secret", "renew_hook_secret")
def _(site: Site) -> Deed:
    hook = _hook(site)
    return lambda: renew_secret(hook=hook, actor=site.lead)


@leaves("hooks.actions.end_hook", "end_hook")
def _(site: Site) -> Deed:
    hook = _hook(site)
    return lambda: end_hook(hook=hook, actor=site.lead)


@leaves("hooks.actions.try_hook", "try_hook")
def _(site: Site) -> Deed:
    hook = _hook(site)
    return lambda: try_hook(hook=hook, actor=site.lead)


@leaves("hooks.actions.tell_again", "tell_hook_again")
def _(site: Site) -> Deed:
    trial = try_hook(hook=_hook(site), actor=site.lead)
    Telling.objects.filter(pk=trial.pk).update(state=State.FAILED)
    return lambda: tell_again(telling=trial, actor=site.lead)
