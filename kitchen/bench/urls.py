"""The kitchen's addresses, and beside them a page with nothing on it to measure against."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path

EMPTY = "bench/empty/"


def empty(request: HttpRequest) -> HttpResponse:
    """The frame that every page has, and nothing in it."""
    return render(request, "bench/empty.html")


urlpatterns = [path(EMPTY, empty), path("", include("kitchen.urls"))]
