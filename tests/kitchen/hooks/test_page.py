"""The lead's page of programs that are told."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from kitchen.hooks.actions import add_hook
from kitchen.hooks.bridge import secret_of
from kitchen.hooks.models import Hook, Telling
from kitchen.reminders.models import State
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def page(site: Site) -> str:
    return reverse("hooks:hooks", args=[site.kitchen.slug])


def test_an_address_is_given_and_its_secret_shown_this_once(site: Site) -> None:
    lead = signed_in(site.lead)
    shown = lead.post(page(site), {"address": " https://wall.example/jars "}).content.decode()
    hook = Hook.objects.get()
    assert re.findall(r'value="(whsec_[^"]+)"', shown) == [secret_of(hook)]
    again = lead.get(page(site)).content.decode()
    assert "https://wall.example/jars" in again
    assert "whsec_" not in again
    other = lead.post(reverse("hooks:secret", args=[site.kitchen.slug, hook.uuid])).content.decode()
    hook.refresh_from_db()
    assert re.findall(r'value="(whsec_[^"]+)"', other) == [secret_of(hook)]
    assert secret_of(hook) not in shown


def test_a_wrong_address_says_why_and_is_kept_in_the_field(site: Site) -> None:
    answer = signed_in(site.lead).post(page(site), {"address": "http://wall.example/jars"})
    assert answer.status_code == 422
    told = answer.content.decode()
    assert "Only an encrypted address can be followed." in told
    assert 'value="http://wall.example/jars"' in told
    assert not Hook.objects.exists()


def test_a_trial_is_sent_and_what_was_given_up_is_sent_again(site: Site) -> None:
    lead, hook = (
        signed_in(site.lead),
        add_hook(kitchen=site.kitchen, address="https://wall.example/jars", actor=site.lead).hook,
    )
    lead.post(reverse("hooks:trial", args=[site.kitchen.slug, hook.uuid]))
    assert "on its way" in lead.get(page(site)).content.decode()
    Telling.objects.update(state=State.FAILED, last_failure="wall.example answered with 500.")
    shown = lead.get(page(site)).content.decode()
    assert "given up" in shown
    assert "wall.example answered with 500." in shown
    lead.post(reverse("hooks:again", args=[site.kitchen.slug, Telling.objects.get().pk]))
    assert Telling.objects.get().state == State.DUE
    lead.post(reverse("hooks:end", args=[site.kitchen.slug, hook.uuid]))
    assert "wall.example" not in lead.get(page(site)).content.decode()
