"""Headers that every answer carries, beside those of Django and of the content security policy."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

_NOT_NEEDED = ("camera", "display-capture", "geolocation", "microphone", "payment", "usb")
PERMISSIONS_POLICY = ", ".join(f"{name}=()" for name in _NOT_NEEDED)


class PrivacyHeadersMiddleware:
    """Switches off what no page needs, and keeps pages about people out of caches: kitchens share their
    tablets.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """The answer with its headers. A ``Cache-Control`` that the view chose stays."""
        response = self.get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        session = getattr(request, "session", None)  # Static files are answered before there is a session.
        if session is not None and session.accessed:
            response.headers.setdefault("Cache-Control", "private, no-store")
        return response
