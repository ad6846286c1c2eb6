"""Attempts at passwords and messages are counted, by name and by address, also behind a proxy."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import count
from uuid import UUID, uuid4

import pytest
from django.contrib.auth import user_logged_in, user_login_failed
from django.core import mail
from django.core.cache import cache
from django.test import Client, override_settings
from django.urls import reverse
from redis.exceptions import RedisError

from kitchen.http.attempts import LIMITS
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db

LONG = "three jars of plums"


@pytest.fixture(autouse=True)
def still(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """An empty cache, and a clock that stands still, so that no count falls between two stretches."""
    monkeypatch.setattr("time.time", lambda: 1_800_000_100.0)
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def site() -> Site:
    site = make_site()
    site.member.set_password(LONG)
    site.member.save()
    return site


def tried(page: str, email: str, password: str, **headers: str) -> int:
    return (
        Client().post(reverse(page), {"username": email, "password": password}, headers=headers).status_code
    )


@pytest.mark.parametrize("page", ["members:sign-in", "admin:login"])
def test_a_name_is_closed_for_a_while_after_ten_wrong_passwords(site: Site, page: str) -> None:
    for _ in range(10):
        assert tried(page, site.member.email, "wrong") == 200
    assert tried(page, site.member.email.upper(), LONG) == 429
    assert tried(page, site.other.email, "wrong") == 200


def test_the_next_stretch_of_time_begins_anew_and_the_page_says_when(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(10):
        tried("members:sign-in", site.member.email, "wrong")
    told = Client().post(reverse("members:sign-in"), {"username": site.member.email, "password": LONG})
    wait = int(told["Retry-After"])
    assert 0 < wait <= LIMITS["members:sign-in"].window_seconds
    assert "tried too often" in told.content.decode()
    monkeypatch.setattr("time.time", lambda: 1_800_000_100.0 + wait)
    assert tried("members:sign-in", site.member.email, LONG) == 302


def test_signing_in_rightly_is_never_counted(site: Site) -> None:
    for _ in range(40):
        assert tried("members:sign-in", site.member.email, LONG) == 302


def test_an_address_is_closed_whatever_names_it_tries(site: Site) -> None:
    for number in range(30):
        assert tried("members:sign-in", f"{number}@yard.example", "wrong") == 200
    assert tried("members:sign-in", site.member.email, LONG) == 429


@override_settings(KITCHEN_PROXIES=1)
def test_behind_a_proxy_each_address_is_counted_by_itself_and_none_can_be_made_up(site: Site) -> None:
    for number in range(30):
        made_up = f"198.51.100.{number}, 203.0.113.7"
        tried("members:sign-in", f"{number}@yard.example", "wrong", **{"X-Forwarded-For": made_up})
    assert tried("members:sign-in", site.member.email, LONG, **{"X-Forwarded-For": "203.0.113.7"}) == 429
    assert tried("members:sign-in", site.member.email, LONG, **{"X-Forwarded-For": "203.0.113.8"}) == 302


def test_without_a_proxy_nobody_is_believed_about_their_address(site: Site) -> None:
    for number in range(30):
        tried(
            "members:sign-in", f"{number}@y.example", "wrong", **{"X-Forwarded-For": f"198.51.100.{number}"}
        )
    assert tried("members:sign-in", site.member.email, LONG, **{"X-Forwarded-For": "198.51.100.99"}) == 429


def test_a_mailbox_gets_three_messages_an_hour(site: Site) -> None:
    for _ in range(5):
        Client().post(reverse("members:forgotten"), {"email": site.member.email})
    assert len(mail.outbox) == 3


def test_of_many_asked_for_at_once_no_more_go_out_than_one_after_the_other(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each comes while all before it are still being answered."""
    answers: list[int] = []
    codes = count(1)

    def ask(**_: object) -> UUID:
        if next(codes) < 20:
            answers.append(Client().post(page, {"username": site.member.email}).status_code)
        return uuid4()

    page = reverse("entrance:ask-code")
    monkeypatch.setattr("kitchen.entrance.views.ask_for_code", ask)
    answers.append(Client().post(page, {"username": site.member.email}).status_code)
    assert Counter(answers) == {302: LIMITS["entrance:ask-code"].by_name, 429: 1}


def test_of_many_wrong_passwords_at_once_no_more_are_looked_at_than_one_after_the_other(site: Site) -> None:
    answers: list[int] = []
    wrong = count(1)

    def failed(**_: object) -> None:
        if next(wrong) < 20:
            answers.append(tried("members:sign-in", site.member.email, "wrong"))

    user_login_failed.connect(failed)
    try:
        answers.append(tried("members:sign-in", site.member.email, "wrong"))
    finally:
        user_login_failed.disconnect(failed)
    assert Counter(answers) == {200: LIMITS["members:sign-in"].by_name, 429: 1}


def test_knocking_at_a_closed_name_closes_no_address_and_from_a_closed_address_no_name(site: Site) -> None:
    for _ in range(60):
        tried("members:sign-in", site.member.email, "wrong")
    assert tried("members:sign-in", site.other.email, "wrong") == 200
    for number in range(30):
        tried("members:sign-in", f"{number}@yard.example", "wrong")
    for _ in range(20):
        assert tried("members:sign-in", site.lead.email, "wrong") == 429
    with override_settings(KITCHEN_PROXIES=1):
        elsewhere = {"X-Forwarded-For": "203.0.113.8"}
        assert tried("members:sign-in", site.lead.email, "wrong", **elsewhere) == 200


def test_a_right_password_is_taken_back_where_it_was_counted(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The stretch of time may end while somebody signs in; the next one must not begin below nothing."""

    def signed_in(**_: object) -> None:
        monkeypatch.setattr("time.time", lambda: 1_800_000_100.0 + LIMITS["members:sign-in"].window_seconds)

    user_logged_in.connect(signed_in)
    try:
        assert tried("members:sign-in", site.member.email, LONG) == 302
    finally:
        user_logged_in.disconnect(signed_in)
    answers = [tried("members:sign-in", site.member.email, "wrong") for _ in range(11)]
    assert answers == [200] * 10 + [429]


def test_whoever_knows_the_password_comes_in_without_the_cache(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    def silent(*_: object, **__: object) -> None:
        raise RedisError

    for step in ("decr", "incr", "add"):  # It falls silent in the middle of it, and stays so.
        monkeypatch.setattr(cache, step, silent)
        assert tried("members:sign-in", site.member.email, LONG) == 302


def test_invitations_cannot_be_guessed_for_long(site: Site) -> None:
    join = reverse("members:join", args=[site.other.uuid, "c8abc1-0123456789abcdef0123456789abcdef"])
    answers = [Client().post(join, {}).status_code for _ in range(31)]
    assert set(answers[:30]) == {422}
    assert answers[30] == 429
