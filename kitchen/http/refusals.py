"""A refusal as a page: what is wrong and what to do, never a bare error."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from kitchen.errors import BadLink, KitchenError, NotAllowed

_STATUS: dict[type[KitchenError], int] = {NotAllowed: 403, BadLink: 410}


class RefusalMiddleware:
    """Turns a ``KitchenError`` that a view lets pass into a page with its message and remedy."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; only what goes wrong concerns this middleware."""
        return self._get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """The refusal's page, or None for anything else."""
        if not isinstance(exception, KitchenError):
            return None
        status = next((code for kind, code in _STATUS.items() if isinstance(exception, kind)), 409)
        return render(request, "http/refused.html", {"refusal": exception}, status=status)
