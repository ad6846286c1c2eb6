"""The page of tokens and the guide."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from kitchen.api import errors
from kitchen.api.base.problems import STATUS
from kitchen.api.base.unreadable import CODE
from kitchen.api.models import Scope, Token
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in
from tests.kitchen.api.operations import operations

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def page(site: Site) -> str:
    return reverse("api:tokens", args=[site.kitchen.slug])


def test_a_token_is_made_on_a_page_and_shown_once(site: Site) -> None:
    client = signed_in(site.member)
    made = client.post(page(site), {"name": "Tablet", "scopes": ["board", "press"]}).content.decode()
    secret = re.search(r'value="(kitchen_[\w-]{40,})"', made)
    assert secret is not None
    token = Token.objects.get()
    assert (token.user, token.kitchen, token.scopes) == (site.member, site.kitchen, ["board", "press"])
    shown = client.get(page(site)).content.decode()
    assert "Tablet" in shown
    assert secret[1] not in shown
    tablet = Client(headers={"Authorization": f"Bearer {secret[1]}"})
    assert tablet.get("/api/v1/kitchens").json()[0]["name"] == site.kitchen.name


def test_a_token_is_ended_on_the_page(site: Site) -> None:
    client = signed_in(site.member)
    client.post(page(site), {"name": "Tablet", "scopes": ["board"]})
    end = reverse("api:end-token", args=[site.kitchen.slug, Token.objects.get().uuid])
    assert signed_in(site.other).post(end).status_code == 404
    assert client.post(end).status_code == 302
    assert Token.objects.get().revoked_at is not None
    assert "Tablet" not in client.get(page(site)).content.decode()


@pytest.mark.parametrize(
    "wrong", [{"name": "Tablet"}, {"scopes": ["board"]}, {"name": "T", "scopes": ["all"]}]
)
def test_what_is_missing_is_said_on_the_page(site: Site, wrong: dict[str, object]) -> None:
    answer = signed_in(site.member).post(page(site), wrong)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode()
    assert not Token.objects.exists()


def test_the_page_belongs_to_the_kitchens_people(site: Site) -> None:
    assert signed_in(make_site().lead).get(page(site)).status_code == 404
    assert Client().get(page(site)).status_code == 302
    shown = signed_in(site.member).get(page(site)).content.decode()
    assert all(f'value="{scope.value}"' in shown for scope in Scope)


def test_the_guide_names_every_operation_and_every_refusal() -> None:
    answer = Client().get(reverse("api:guide"))
    text = answer.content.decode()
    assert answer.headers["Content-Type"] == "text/plain; charset=utf-8"
    missing = [one.name for one in operations() if f"{one.method.upper():6} {one.path}\n" not in text]
    assert not missing
    ours = {kind.default_code: kind.status_code for kind in errors.Refused.__subclasses__()}
    codes = ours | {kind.code: status for kind, status in STATUS.items()}
    assert not [
        code for code, status in (codes | {CODE: 400}).items() if f"    {status}  {code} " not in text
    ]
