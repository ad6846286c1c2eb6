"""How much anybody may send: what is larger is refused by what it says of its size, and never read."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from kitchen.errors import TooLarge

MOST_SENT = 2_500_000
"""Bytes of a request. Two and a half times the largest file that any page takes; a guard, no figure of any standard."""


def check_size(request: HttpRequest) -> None:
    """Refuse what says that it is larger. What does not say how large it is has nothing to be read."""
    said = str(request.META.get("CONTENT_LENGTH") or "0")
    if said.isdecimal() and (len(said) > len(str(MOST_SENT)) or int(said) > MOST_SENT):
        raise TooLarge(
            f"That is larger than {MOST_SENT / 1e6:g} MB.",
            remedy="Send less at once: a shorter file, or several.",
        )


class SizeMiddleware:
    """Answers 413 before anything of it is read. What programs send is held to the same by the API, in its words."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on unless it is too large."""
        if not request.path_info.startswith("/api/"):
            try:
                check_size(request)
            except TooLarge as refusal:
                return render(request, "http/refused.html", {"refusal": refusal}, status=413)
        return self._get_response(request)
