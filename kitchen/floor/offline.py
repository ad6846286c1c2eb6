"""The service worker that keeps copies of open run sheets, for when the connection is gone."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe


@login_not_required
@require_safe
def offline(request: HttpRequest) -> HttpResponse:
    """The worker's script. It holds nothing of anybody, and serves only what lies below its own address."""
    response = render(request, "floor/offline.js", content_type="text/javascript")
    response["Cache-Control"] = "no-cache"
    return response
