"""ETags: a digest of what is told of a row, and changes that name the one they were decided on."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256

from django.http.response import HttpResponseBase
from django.utils.cache import get_conditional_response
from django.utils.http import parse_etags
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.errors import VersionMissing, VersionPassed


def etag_of(told: Mapping[str, object]) -> str:
    """The strong ETag of a row as it is told: the same as long as nothing in it changes."""
    return f'"{sha256(JSONRenderer().render(told)).hexdigest()[:32]}"'


def with_etag(request: Request, told: Mapping[str, object], status: int = 200) -> HttpResponseBase:
    """The row with its ETag, or 304 when the caller has it already."""
    etag = etag_of(told)
    response = Response(told, status=status, headers={"ETag": etag})
    if request.method not in ("GET", "HEAD") or "If-None-Match" not in request.headers:
        return response
    answer = get_conditional_response(request._request, etag=etag, response=response)
    return answer or response


def check_version(request: Request, told: Mapping[str, object]) -> None:
    """Refuse a change that names no version, or one that has passed. The caller holds the row's lock."""
    given = request.headers.get("If-Match")
    if given is None:
        raise VersionMissing
    named = parse_etags(given)
    if named != ["*"] and etag_of(told) not in named:
        raise VersionPassed
