"""The kitchen's addresses, and beside them a page and an operation with nothing in them to measure against."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.models import Scope
from kitchen.members.models import Kitchen
from kitchen.members.pages import kitchen_named
from kitchen.members.rules import Deed

EMPTY, BARE = "bench:empty", "bench:bare"


def empty(request: HttpRequest, kitchen: str) -> HttpResponse:
    """What every page of a kitchen has: who is asking, whether they belong here, the frame; and nothing in it."""
    return render(request, "bench/empty.html", {"kitchen": kitchen_named(request, kitchen)})


class Bare(KitchenView):
    """What every operation of a kitchen has: who is asking, how often, whether they may; and a small answer."""

    model = Kitchen
    needs = {"read": Need(Deed.SEE, Scope.BOARD)}

    def read(self, request: Request, kitchen: UUID) -> Response:
        """The kitchen's id."""
        return Response({"id": str(self.here.uuid)})


_own = (
    [
        path("bench/empty/<slug:kitchen>/", empty, name="empty"),
        path("bench/bare/<uuid:kitchen>", Bare.as_view({"get": "read"}), name="bare"),
    ],
    "bench",
)
urlpatterns = [path("", include(_own)), path("", include("kitchen.urls"))]
