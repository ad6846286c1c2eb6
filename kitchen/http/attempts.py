"""Passwords cannot be tried out, and nobody's mailbox be filled: attempts are counted by address and by name."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import Resolver404, resolve

from kitchen.errors import TooManyAttempts
from kitchen.http.counting import client_address, count_one, seconds_left, take_back


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """So many attempts in a stretch of time, by one address and with one name; ``failed`` counts only those refused."""

    window_seconds: int = 300
    by_address: int = 30
    by_name: int = 10
    name_field: str = ""
    failed: bool = True


LIMITS = {
    "members:sign-in": Limit(name_field="username"),
    "admin:login": Limit(name_field="username"),
    "entrance:ask-code": Limit(
        window_seconds=3600, by_address=20, by_name=3, name_field="username", failed=False
    ),
    "entrance:enter-code": Limit(),
    "entrance:begin-passkey": Limit(by_address=120, failed=False),
    "entrance:sign-in-by-passkey": Limit(),
    "entrance:begin-adding": Limit(),
    "members:join": Limit(),
    "members:change-password": Limit(),
    "members:forgotten": Limit(
        window_seconds=3600, by_address=20, by_name=3, name_field="email", failed=False
    ),
}
"""Ten wrong passwords for one name, thirty from one address, in five minutes: common practice, no source.

A code is not counted by name, so that nobody can keep another out by typing wrong ones; each holds for a few tries.
"""


class AttemptsMiddleware:
    """Answers 429 once too many attempts were made, and says when to try again."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on unless it is one attempt too many."""
        name = _name(request)
        limit = LIMITS.get(name)
        if limit is None:
            return self._get_response(request)
        attempt = _Attempt(window_seconds=limit.window_seconds, at=time.time())
        if not all(attempt.is_within(what, most) for what, most in _counts(request, name, limit)):
            attempt.forget()
            return _too_many(request, limit)
        response = self._get_response(request)
        if limit.failed and 300 <= response.status_code < 400:
            attempt.forget()
        return response


@dataclass(kw_only=True)
class _Attempt:
    """An attempt and where it was counted.

    It is counted before it is judged: of many that are made at once, none is looked at before those ahead of it are
    counted. What was refused here is no attempt, so that nobody closes an address by knocking at a closed name, and
    no name by knocking from a closed address.
    """

    window_seconds: int
    at: float
    where: list[str] = field(default_factory=list)

    def is_within(self, what: str, most: int) -> bool:
        """Count it, and say whether it is none too many."""
        times = count_one(what, self.window_seconds, at=self.at)
        if times:  # The cache answered.
            self.where.append(what)
        return times <= most

    def forget(self) -> None:
        """Take back what was counted."""
        for what in self.where:
            take_back(what, self.window_seconds, at=self.at)


def _name(request: HttpRequest) -> str:
    """The name of the page that something is sent to; empty for any other request."""
    if request.method != "POST":
        return ""
    try:
        return resolve(request.path_info).view_name
    except Resolver404:
        return ""


def _counts(request: HttpRequest, name: str, limit: Limit) -> list[tuple[str, int]]:
    found = [(f"{name}:address:{client_address(request)}", limit.by_address)]
    given = request.POST.get(limit.name_field, "").strip().lower() if limit.name_field else ""
    if given:
        found.append((f"{name}:name:{given}", limit.by_name))
    return found


def _too_many(request: HttpRequest, limit: Limit) -> HttpResponse:
    wait = seconds_left(limit.window_seconds)
    refusal = TooManyAttempts(
        "That was tried too often.",
        remedy=f"Try again in {-(-wait // 60)} minutes, or ask your kitchen's lead.",
    )
    response = render(request, "http/refused.html", {"refusal": refusal}, status=429)
    response["Retry-After"] = str(wait)
    return response
