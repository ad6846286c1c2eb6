"""Each answer in the language and the units of whoever asked."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers
from django.utils.translation import get_language_from_request

from kitchen.language.person import UNITS_COOKIE, written_for


class ReaderMiddleware:
    """What the person chose, then what this browser was told, then what it asks for itself."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer in their language, and say in which."""
        # Without a session there is nobody to look up: the health pages must not ask the database.
        reader = request.user if settings.SESSION_COOKIE_NAME in request.COOKIES else None
        language = getattr(reader, "language", "") or get_language_from_request(request)
        units = getattr(reader, "units", "") or request.COOKIES.get(UNITS_COOKIE, "")
        with written_for(language, units):
            response = self._get_response(request)
        response.headers.setdefault("Content-Language", language)
        patch_vary_headers(response, ("Accept-Language", "Cookie"))
        return response
