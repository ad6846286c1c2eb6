"""What every answer carries."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory

from kitchen.http.headers import PrivacyHeadersMiddleware


def test_every_answer_says_what_a_page_may_do(client: Client) -> None:
    headers = client.get("/healthz").headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "camera=()" in headers["Permissions-Policy"]


def test_the_content_policy_allows_nothing_inline(client: Client) -> None:
    sent = client.get("/healthz").headers["Content-Security-Policy"]
    directives = {name: sources for name, *sources in (part.split() for part in sent.split(";"))}
    assert directives["default-src"] == ["'none'"]
    assert directives["script-src"] == directives["style-src"] == ["'self'"]
    assert "unsafe" not in sent
    assert "nonce" not in sent


@pytest.mark.django_db
def test_pages_are_for_people_who_have_signed_in(client: Client) -> None:
    answer = client.get("/admin/")
    assert answer.status_code == 302
    assert "django.contrib.auth.middleware.LoginRequiredMiddleware" in settings.MIDDLEWARE


def answered(*, session_read: bool, chosen: str | None = None) -> HttpResponse:
    def view(request: HttpRequest) -> HttpResponse:
        return HttpResponse(headers={} if chosen is None else {"Cache-Control": chosen})

    request = RequestFactory().get("/")
    request.session = type("Session", (), {"accessed": session_read})()
    return PrivacyHeadersMiddleware(view)(request)


def test_a_page_about_a_person_is_not_kept() -> None:
    assert answered(session_read=True).headers["Cache-Control"] == "private, no-store"


def test_a_page_for_everyone_may_be_kept() -> None:
    assert "Cache-Control" not in answered(session_read=False).headers


def test_what_the_view_chose_stays() -> None:
    chosen = "private, max-age=900"
    assert answered(session_read=True, chosen=chosen).headers["Cache-Control"] == chosen


def test_the_icon_is_found_under_the_name_that_browsers_ask_for(client: Client) -> None:
    answer = client.get("/favicon.ico")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/static/kitchen/icon.svg")
    assert finders.find("kitchen/icon.svg") is not None
