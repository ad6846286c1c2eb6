"""Pages and drawings go packed to every browser that unpacks them: a tenth of the bytes over a kitchen's Wi-Fi."""

from __future__ import annotations

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

PACKED_TYPES = frozenset({"text/html", "image/svg+xml", "text/calendar", "text/csv"})
"""What is packed. Not what programs read: a packed answer has a weak ETag, and ``If-Match`` asks for a strong one."""


class PackingMiddleware(GZipMiddleware):
    """Django's own packing, of these types alone.

    The secret in a page's forms is masked anew each time and a random length is added to what is packed, so its size
    tells nothing of it.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        """The answer, packed where that pays."""
        if response.get("Content-Type", "").partition(";")[0] not in PACKED_TYPES:
            return response
        return super().process_response(request, response)
