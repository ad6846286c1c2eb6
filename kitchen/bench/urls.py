"""The kitchen's addresses, and beside them a page with nothing on it to measure against."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path

from kitchen.members.pages import kitchen_named

EMPTY = "bench:empty"


def empty(request: HttpRequest, kitchen: str) -> HttpResponse:
    """What every page of a kitchen has: who is asking, whether they belong here, the frame; and nothing in it."""
    return render(request, "bench/empty.html", {"kitchen": kitchen_named(request, kitchen)})


_own = ([path("bench/empty/<slug:kitchen>/", empty, name="empty")], "bench")
urlpatterns = [path("", include(_own)), path("", include("kitchen.urls"))]
