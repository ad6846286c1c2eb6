"""Tokens: made once, kept as a digest, ended at once; and sessions beside them."""

from __future__ import annotations

from datetime import timedelta
from hashlib import sha256

import pytest
from django.contrib.auth import get_user_model
from django.test import Client, override_settings
from django.utils import timezone

from kitchen.api.actions import make_token, revoke_token
from kitchen.api.models import TOKEN_LIFE, Scope, Token
from kitchen.audit.queries import about
from kitchen.configuration.broker import caches as cache_settings
from kitchen.errors import AlreadyDecided, BadSetting, NotAllowed
from kitchen.members.actions import end_membership
from tests.factories.sites import Site, make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def made(site: Site, *scopes: Scope) -> tuple[Token, Client]:
    new = make_token(
        user=site.member, kitchen=site.kitchen, name="Tablet", scopes=scopes or (Scope.EVERYTHING,)
    )
    return new.token, Client(headers={"Authorization": f"Bearer {new.secret}"})


def status(client: Client, site: Site) -> int:
    return client.get(f"/api/v1/kitchens/{site.kitchen.uuid}").status_code


def test_only_the_digest_is_kept(site: Site) -> None:
    new = make_token(user=site.member, kitchen=site.kitchen, name=" Tablet ", scopes=[Scope.BOARD])
    row = Token.objects.values().get()
    assert row["digest"] == sha256(new.secret.encode()).hexdigest()
    assert new.secret not in repr(row)
    assert (row["name"], row["scopes"]) == ("Tablet", ["board"])
    assert new.secret not in repr(list(about(new.token).values()))
    assert about(new.token).get().action == "make_token"


def test_a_token_is_used_until_it_is_revoked(site: Site) -> None:
    token, client = made(site)
    assert status(client, site) == 200
    revoke_token(token=token, actor=site.member)
    assert status(client, site) == 401
    with pytest.raises(AlreadyDecided):
        revoke_token(token=token, actor=site.member)


def test_when_it_was_used_is_noted_now_and_then(site: Site) -> None:
    token, client = made(site)
    assert status(client, site) == 200
    first = Token.objects.get().last_used_at
    assert first is not None
    assert status(client, site) == 200
    assert Token.objects.get().last_used_at == first
    Token.objects.update(last_used_at=first - timedelta(minutes=11))
    assert status(client, site) == 200
    assert Token.objects.filter(last_used_at__gt=first).exists()
    assert token.last_used_at is None


def test_a_token_ends(site: Site) -> None:
    token, client = made(site)
    assert token.ends_at == token.created_at + TOKEN_LIFE
    Token.objects.update(ends_at=timezone.now())
    assert status(client, site) == 401


def test_a_token_ends_with_the_membership(site: Site) -> None:
    _, client = made(site)
    end_membership(membership=site.kitchen.memberships.get(user=site.member), actor=site.lead)
    assert status(client, site) == 404


def test_a_token_ends_with_the_user(site: Site) -> None:
    _, client = made(site)
    get_user_model().objects.filter(pk=site.member.pk).update(is_active=False)
    assert status(client, site) == 401


def test_a_lead_ends_anybodys_token_and_a_member_only_their_own(site: Site) -> None:
    token, client = made(site)
    with pytest.raises(NotAllowed):
        revoke_token(token=token, actor=site.other)
    revoke_token(token=token, actor=site.lead)
    assert status(client, site) == 401


def test_a_token_needs_a_name_and_something_to_open(site: Site) -> None:
    for name, scopes in ((" ", [Scope.BOARD]), ("Tablet", [])):
        with pytest.raises(BadSetting):
            make_token(user=site.member, kitchen=site.kitchen, name=name, scopes=scopes)


@pytest.mark.parametrize(
    "header", ["Bearer", "Bearer ", "Bearer kitchen_unknown", "Bearer \xff", "Basic eA=="]
)
def test_whatever_is_no_token_is_nobody(site: Site, header: str) -> None:
    assert status(Client(headers={"Authorization": header}), site) == 401


def test_a_session_opens_everything_but_writes_need_the_pages_own_mark(site: Site) -> None:
    client = signed_in(site.lead)
    assert status(client, site) == 200
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(site.lead)
    answer = strict.patch(
        f"/api/v1/kitchens/{site.kitchen.uuid}",
        {"jar_fee": "1"},
        content_type="application/json",
        headers={"If-Match": "*"},
    )
    assert (answer.status_code, answer.json()["code"]) == (403, "permission-denied")
    site.kitchen.refresh_from_db()
    assert site.kitchen.jar_fee == ""


@override_settings(API_PER_MINUTE_UNKNOWN=2)
@pytest.mark.parametrize("headers", [{}, {"Authorization": "Bearer kitchen_unknown"}])
def test_strangers_are_counted_too(site: Site, headers: dict[str, str]) -> None:
    came = [status(Client(headers=headers), site) for _ in range(6)]
    assert set(came) == {401, 429}


def test_answers_about_people_are_kept_by_no_cache(site: Site) -> None:
    _, client = made(site)
    answer = client.get(f"/api/v1/kitchens/{site.kitchen.uuid}")
    assert answer.headers["Cache-Control"] == "private, no-store"
    public = Client().get("/api/v1/foods")
    assert public.headers["Cache-Control"] == "public, max-age=3600"


@override_settings(API_PER_MINUTE=3)
def test_too_many_requests_wait_for_the_next_minute(site: Site) -> None:
    _, client = made(site)
    _, another = made(site)
    answers = [client.get(f"/api/v1/kitchens/{site.kitchen.uuid}") for _ in range(8)]
    # The minute may end between two of them.
    late = [one for one in answers if one.status_code == 429]
    assert late
    assert 0 <= int(late[0].headers["Retry-After"]) <= 60
    assert late[0].json()["code"] == "throttled"
    assert status(another, site) == 200


@override_settings(
    CACHES=cache_settings("redis://127.0.0.1:1/0")  # Where nobody answers.
)
def test_nobody_waits_for_a_cache_that_does_not_answer(site: Site) -> None:
    _, client = made(site)
    assert status(client, site) == 200
