"""Signing out: the browser of a shared tablet forgets what it kept."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.factories.sites import make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db


def test_the_browser_is_told_to_forget() -> None:
    client = signed_in(make_site().member)
    answer = client.post(reverse("members:sign-out"))
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/")
    assert answer["Clear-Site-Data"] == '"storage"'
    assert "_auth_user_id" not in client.session


def test_nobody_is_signed_out_by_a_link() -> None:
    client = signed_in(make_site().member)
    assert client.get(reverse("members:sign-out")).status_code == 405
    assert "_auth_user_id" in client.session
