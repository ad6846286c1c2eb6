"""Sessions: a new one with each signing in, none after signing out, and none for whoever may not sign in any more."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from kitchen.members.models import User
from tests.factories.sites import make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

PASSWORD = "quillbrook-harvest"  # noqa: S105  # Of a test.


@pytest.fixture
def member() -> User:
    user = make_site().member
    user.set_password(PASSWORD)
    user.save()
    return user


def sign_in(client: Client, user: User, password: str = PASSWORD) -> int:
    answer = client.post(reverse("members:sign-in"), {"username": user.email, "password": password})
    return answer.status_code


def front(client: Client) -> str:
    return str(client.get("/").get("Location", ""))


def test_signing_in_begins_a_session_of_its_own(member: User) -> None:
    """A session that somebody else planted in the browser is worth nothing afterwards."""
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = "planted" * 4
    assert sign_in(client, member) == 302
    key = client.cookies[settings.SESSION_COOKIE_NAME].value
    assert key != "planted" * 4
    assert len(key) >= 32
    again = Client()
    sign_in(again, member)
    assert again.cookies[settings.SESSION_COOKIE_NAME].value != key


def test_what_was_signed_out_opens_nothing_any_more(member: User) -> None:
    client = Client()
    sign_in(client, member)
    key = client.cookies[settings.SESSION_COOKIE_NAME].value
    client.post(reverse("members:sign-out"))
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = key
    assert front(thief).startswith("/sign-in/")


def test_whoever_may_not_sign_in_any_more_is_out_at_once(member: User) -> None:
    client = signed_in(member)
    assert front(client).startswith("/kitchens/")
    User.objects.filter(pk=member.pk).update(is_active=False)
    assert front(client).startswith("/sign-in/")


def test_another_password_ends_the_other_sessions(member: User) -> None:
    here, elsewhere = Client(), Client()
    sign_in(here, member)
    sign_in(elsewhere, member)
    changed = {
        "old_password": PASSWORD,
        "new_password1": "a harvest of quills",
        "new_password2": "a harvest of quills",
    }
    assert here.post(reverse("members:change-password"), changed).status_code == 302
    assert front(here).startswith("/kitchens/")
    assert front(elsewhere).startswith("/sign-in/")


@pytest.mark.parametrize(
    "path", ["/.git/config", "/manage.py", "/static/../kitchen/settings.py", "/kitchen/settings.py"]
)
def test_nothing_of_the_program_is_served(member: User, path: str) -> None:
    assert signed_in(member).get(path).status_code == 404
