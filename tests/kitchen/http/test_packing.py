"""What goes packed over the Wi-Fi, and what must not."""

from __future__ import annotations

from gzip import decompress

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory

from kitchen.http.packing import PACKED_TYPES, PackingMiddleware

LONG = b"snap beans, raw pack, quarts; " * 200


def answered(content_type: str, accepts: str) -> HttpResponse:
    def view(request: HttpRequest) -> HttpResponse:
        return HttpResponse(LONG, content_type=content_type, headers={"ETag": '"one"'})

    answer = PackingMiddleware(view)(RequestFactory().get("/", headers={"accept-encoding": accepts}))
    assert isinstance(answer, HttpResponse)
    return answer


@pytest.mark.parametrize("content_type", sorted(PACKED_TYPES))
def test_a_page_is_packed_for_whoever_unpacks_it(content_type: str) -> None:
    answer = answered(f"{content_type}; charset=utf-8", "gzip, br")
    assert answer.headers["Content-Encoding"] == "gzip"
    assert len(answer.content) < len(LONG) / 10
    assert decompress(answer.content) == LONG
    assert answer.headers["Vary"] == "Accept-Encoding"


def test_nobody_gets_what_they_cannot_unpack() -> None:
    answer = answered("text/html", "identity")
    assert "Content-Encoding" not in answer.headers
    assert answer.content == LONG


@pytest.mark.parametrize("content_type", ["application/json", "application/problem+json", "application/pdf"])
def test_what_programs_read_keeps_its_strong_etag(content_type: str) -> None:
    answer = answered(content_type, "gzip")
    assert "Content-Encoding" not in answer.headers
    assert answer.headers["ETag"] == '"one"'


def test_equal_pages_differ_in_their_packed_size() -> None:
    sizes = {len(answered("text/html", "gzip").content) for _ in range(40)}
    assert len(sizes) > 1  # The size of a page tells nothing of a secret that stands in it.
