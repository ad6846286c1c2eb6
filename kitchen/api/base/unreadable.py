"""Requests that no operation gets to see, because they cannot be read at all: a host that is no name, for instance."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.defaults import bad_request

from kitchen.api.base.problems import MEDIA_TYPE, problem

CODE = "bad-request"
_UNDER = "/api/v1/"


def unreadable(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A problem for programs, a page for people."""
    if not request.path.startswith(_UNDER):
        return bad_request(request, exception)
    words = "The request cannot be read. Look at its headers, above all the host."
    answer = JsonResponse(problem(CODE, 400, words, request.path), status=400, content_type=MEDIA_TYPE)
    answer.headers["Cache-Control"] = "no-store"
    return answer
